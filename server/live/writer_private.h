/* SPDX-License-Identifier: MIT */
/* writer_private.h - what the files of the writer share. Nobody else includes it. */
#ifndef CAIRN_WRITER_PRIVATE_H
#define CAIRN_WRITER_PRIVATE_H

#include "live/shared_model.h"
#include "live/writer.h"

struct writer {
    struct served_event *served; /* borrowed */
    const struct publisher *publisher;
    struct store *store;
    int64_t data_version;
    const char *data_dir; /* borrowed */

    struct shared_model *shared;
    struct model *model; /* the shared one's, which nobody else adds to */
    struct ruling_set *set;
    struct keyring *keys;
    struct noticeboard *notices;
    struct scorer scorer;
    int64_t office_revision, public_revision;
    int64_t office_ms, public_ms;
    bool told;        /* of a failure that goes on: the log has it already */
    bool unshown;     /* what memory holds could not be made into a snapshot: it is tried again */
    bool standby;     /* the file stands by for another server */
    bool doubtful;    /* memory may not be what the file holds: take all of it in again */
    int64_t tried_us; /* when the file was last tried again */
    int64_t damaged;  /* facts that the log was told of */
    bool dirty;       /* memory holds what the disk refused: it must be loaded again before use */

    /* one batch */
    int *touched; /* cars whose readings changed */
    int touched_count;
    bool *is_touched;
};

/* Takes the write lock, and then what others committed before it was ours; and loads the event
 * again where memory is `dirty`. Nothing is begun where it fails. */
int writer_begin(struct writer *w);

/* Whether the event can be written now, by a look at the file; the log is told of a change. */
enum write_state writer_state(struct writer *w);

/* The same, and each second a try to mend what stands in the way: opens a file again that could
 * only be read, writes again to a disk that failed. */
void writer_tend(struct writer *w);

/* Where memory may not be what the file holds, takes all of it in again. */
int writer_settle(struct writer *w);

/* Loads everything, publishes it, and looks at every fact. */
int writer_take_in(struct writer *w);

/* Tells the log, where it is news, and readers which facts are damaged. */
void writer_tell_damage(struct writer *w);

/* Keeps what is open where another file took its place (store_save_open), and tells where. */
void writer_save_open(struct writer *w, bool at_end);

/* Loads the event, the notices, or keys and codes from the file again. */
int writer_load_event(struct writer *w);
int writer_load_notices(struct writer *w);
int writer_load_keys(struct writer *w);

/* True where the last classification posted is final, and nothing has changed since. */
bool writer_is_final(const struct writer *w);

/* Makes a loaded model the one that is written to and scored. Takes the model. */
int writer_adopt(struct writer *w, struct model *model);

/* Scores what memory holds and swaps it in. */
int writer_publish(struct writer *w);

/* The key of a write, NULL where it is not in force any more. */
const struct stored_key *writer_key_of(const struct writer *w, const struct write *write);

/* What an upload of that kind of write is called. */
const char *writer_upload_kind(enum write_kind kind);

/* Marks a write as failed by the machine. */
void writer_fail(struct writer *w, struct write *write, const char *why);

/* True where the If-Match of decisions or readings names what is in force: of decisions their log,
 * of readings all that was said of the car and the point of each row, or of the reading that the
 * row replaces. */
bool writer_matches(const struct writer *w, const struct write *write);

/* Keeps a reading that was not taken, so that the office sees it; inside the transaction. */
int writer_keep_refusal(struct writer *w, const struct stored_key *key,
                        const struct reading_text *text, size_t row, const char *reason,
                        int64_t upload);

/* Keeps how many more of an upload were not taken than are kept each by itself. */
int writer_keep_more_refusals(struct writer *w, const struct stored_key *key, size_t more,
                              int64_t upload);

/* Keeps that somebody looked at a doubt; inside the transaction. */
int writer_acknowledge(struct writer *w, struct write *write, int64_t now,
                       const struct stored_key *key);

/* Answers a list of writes. */
void writer_answer_all(struct writer *w, struct write *writes);

/* A document: taken whole, with every fact still in place, or not at all. Answers the write. */
void writer_work_document(struct writer *w, struct write *write);

/* A notice, a case or its answer, or a crew's code renewed. Answers the write. */
void writer_work_notice(struct writer *w, struct write *write);

#endif
