/* SPDX-License-Identifier: MIT */
/* writer_private.h - what the files of the writer share. Nobody else includes it. */
#ifndef CAIRN_WRITER_PRIVATE_H
#define CAIRN_WRITER_PRIVATE_H

#include "base/problem.h"
#include "live/shared_model.h"
#include "live/write_operations.h"
#include "live/writer.h"
#include "store/stored_documents.h"
#include "store/stored_keys.h"

struct writer {
    struct served_event *served; /* borrowed */
    const struct publisher *publisher;
    const char *data_dir; /* borrowed */
    struct store *store;  /* NULL between two tries to open the file */
    int64_t data_version; /* of the file, as memory has it; see store_data_version */

    struct shared_model *shared;
    struct model *model; /* the shared one's, which nobody else adds to */
    struct ruling_set *set;
    struct keyring *keys;
    struct noticeboard *notices;
    struct scorer scorer;
    int64_t office_revision, public_revision;
    int64_t office_ms, public_ms;

    bool dirty;            /* memory holds facts that the disk refused: loaded again before use */
    bool must_reload;      /* memory may not be what the file holds: all of it is loaded again */
    bool unpublished;      /* what memory holds could not be made into a snapshot: tried again */
    bool standby;          /* the file stands by for another server */
    bool failure_logged;   /* of a refresh that goes on failing */
    int64_t damage_logged; /* facts that were logged */
    int64_t last_try_us;   /* when the file was last tried again */

    /* cars to be scored again */
    int *touched;
    int touched_count;
    bool *is_touched;
};

/* ---- writer.c ---- */

/* Begins a transaction, and then loads what others committed before it had the write lock, and all
 * where memory is `dirty` or `must_reload`. Where it fails no transaction is open. */
int writer_begin(struct writer *w);

/* Logs a failure, but only the first of a series; `err` ERR_OK ends the series. */
void writer_log_failure(struct writer *w, int err, const char *what);

/* Why the last call failed: the store's words, or those of the error. */
const char *writer_failure(const struct writer *w, int err);

/* ---- writer_load.c ---- */

/* Load the event, the notices, or keys and codes from the file again. */
int writer_load_event(struct writer *w);
int writer_load_notices(struct writer *w);
int writer_load_keys(struct writer *w);

/* Makes a loaded model the one that the writer adds to and scores. Takes the model, also on
 * failure. */
int writer_adopt(struct writer *w, struct model *model);

/* Loads everything, publishes it, and checks every fact. */
int writer_load_all(struct writer *w);

/* Loads everything where `must_reload` asks for it. */
int writer_reload(struct writer *w);

/* ---- writer_publish.c ---- */

/* Scores what memory holds and swaps in a snapshot of it. Cars that could not be scored because
 * memory was out are scored with the next one. */
int writer_publish(struct writer *w);

/* Has a car scored again with the next revision. */
void writer_touch(struct writer *w, int car);

/* ---- writer_state.c ---- */

/* Opens the event's file and loads it all.
 *   why  gets what is wrong, a line */
int writer_open_file(struct writer *w, struct textbuf *why);

/* Checks whether the event can be written now; a change is logged. */
enum writability writer_state(struct writer *w);

/* The same, and once a second tries to clear what stands in the way: opens a read-only file again,
 * writes again to a disk that failed. */
void writer_recover(struct writer *w);

/* Reports which facts are damaged: to readers, and to the log where their number has changed. */
void writer_report_damage(struct writer *w);

/* Keeps what is open where another file took its place (store_rescue), and logs where. */
void writer_rescue(struct writer *w, bool at_end);

/* ---- writer_transaction.c ---- */

/* One transaction on its way to the disk, and what it changes. */
struct transaction {
    struct writer *w;
    int64_t now;                  /* ms since 1970 */
    const struct stored_key *key; /* of the write at hand; NULL for a crew's */
    bool stores;                  /* something is to be committed */
    bool office, public;          /* the office's, the public's revision is a new one */
    bool facts;                   /* memory holds facts that are not on the disk yet */
    bool decisions;               /* rulings may follow from them */
    bool keys, notices;           /* are to be loaded again once it is committed */
    struct model *next;           /* the event under a new document; owned */
};

/* Does writes in one transaction, publishes what it changed and answers them. */
void writer_commit(struct writer *w, struct write *writes);

/* Declines a write, as `result` says. Returns ERR_OK: its transaction goes on without it. */
int write_decline(struct write *write, enum write_result result);

/* Marks a write as failed by the machine.
 *   why  where the write does not say why itself; "": see served_event_trouble */
void writer_fail(struct writer *w, struct write *write, const char *why);

/* Answers a list of writes, which may be gone afterwards. */
void writer_answer(struct writer *w, struct write *writes);

/* Counts a write that holds one thing. */
void writer_count_one(const struct write *write, struct write_figures *figures);

/* Keeps the body of a write as an upload of its kind. `id` gets the row's. */
int transaction_add_upload(struct transaction *t, const struct write *head,
                           const struct write_body *body, int64_t *id);

/* ---- writer_documents.c ---- */

/* Adds a document and puts it in force; it is declined where a fact would lose its place.
 *   head  of a kind whose `upload` is the document's name
 *   note  of who replaced it and why; NULL for none */
int transaction_add_document(struct transaction *t, struct write *head,
                             const struct write_body *document, const struct change_note *note);

/* Appends the errors among problems, a line each. */
void writer_list_problems(const struct problems *problems, struct textbuf *why);

/* ---- writer_notices.c ---- */

/* True where the last classification posted is final, and nothing has changed since. */
bool writer_is_final(const struct writer *w);

/* ---- writer_refusals.c ---- */

/* Keeps a reading that was not taken, so that the office sees it. */
int transaction_keep_refusal(struct transaction *t, const struct reading_text *text, size_t row,
                             const char *reason, int64_t upload);

/* Keeps how many more of an upload were not taken than are kept each by itself. */
int transaction_keep_more_refusals(struct transaction *t, size_t more, int64_t upload);

#endif
