/* SPDX-License-Identifier: MIT */
/* store.h - the event file DATA_DIR/SLUG.cairn: opening it, transactions, the event in it, checks.
 *
 * Only the files of this room know SQLite. Readings, decisions and revisions are added here; what
 * else an event file holds has a header of its own: stored_documents.h, stored_keys.h,
 * stored_notices.h, stored_enquiries.h, stored_refusals.h, stored_acknowledgements.h, code_book.h.
 * event_log.h reads all of it as one log, and examine.h checks a file without opening it to write.
 *
 * A store is one connection to one file. One owner at a time; any thread may be it. Functions that
 * return ERR_IO, ERR_INPUT (the file is damaged), ERR_BUSY (others write) leave the reason in
 * store_message. What a transaction added is on the disk once store_commit has returned ERR_OK
 * (synchronous=FULL). */
#ifndef CAIRN_STORE_H
#define CAIRN_STORE_H

#include <stdbool.h>
#include <stdint.h>

#include "base/textbuf.h"
#include "event/event.h"
#include "store/damaged_facts.h"

struct store;

/* "cair": application_id of every event file. */
#define STORE_APPLICATION_ID 0x63616972

/* ---- opening and closing ---- */

enum store_mode {
    STORE_CREATE,    /* make the file where it is not there */
    STORE_FOLLOW,    /* the same, for cairn follow */
    STORE_OPEN,      /* the file must be there */
    STORE_SERVE,     /* the same, for a server */
    STORE_EXCLUSIVE, /* the same, while nobody else has it open */
    STORE_READ,      /* the same, to be read beside its writer; nothing is changed */
    /* As it is now, read into memory: needs no file beside it, so that it works on a disk that is
     * full or read-only. Never in a process that has the file open in another mode: the locks of
     * the other connection would be lost. */
    STORE_COPY
};

/* Opens an event file and brings it to the newest schema. Its lock (store_lock.h) is held until
 * store_close: exclusively for STORE_EXCLUSIVE, not at all for STORE_READ and STORE_COPY, else
 * shared.
 *   path  the file
 *   why   gets why it failed; may be NULL
 * Returns: ERR_OK; ERR_UNKNOWN (not there); ERR_INPUT (no event file, damaged, or made by a newer
 * program); ERR_BUSY, ERR_CONFLICT (others have it open); ERR_IO; ERR_NOMEM. */
int store_open(const char *path, enum store_mode mode, struct store **out, struct textbuf *why);

/* As store_open; but where the machine does not let it be opened in that mode it is read as
 * STORE_COPY, and store_message says why. */
int store_open_to_read(const char *path, enum store_mode mode, struct store **out,
                       struct textbuf *why);

/* Closes; NULL is accepted. An open transaction is rolled back. */
void store_close(struct store *store);

/* Why the last call failed; borrowed until the next call. */
const char *store_message(const struct store *store);

/* True where nothing can be written: a file of another user, a copy in memory. */
bool store_is_read_only(const struct store *store);

/* True for STORE_COPY, also where store_open_to_read fell back to it. */
bool store_is_copy(const struct store *store);

/* The newest schema that this program knows. */
int64_t store_newest_version(void);

/* ---- transactions ---- */

/* Begins a write transaction, and takes the write lock at once; waits some seconds for it.
 * Returns: ERR_OK; ERR_BUSY; ERR_IO where the file cannot be written, or see store_check_file. */
int store_begin(struct store *store);

/* Commits. Where it fails the transaction is rolled back; it fails also where the file was removed
 * or replaced meanwhile: what was written is then in no file that others see.
 * Returns: ERR_OK; ERR_IO; ERR_BUSY; ERR_NOMEM. */
int store_commit(struct store *store);

/* Rolls back; nothing where no transaction is open. store_message stays. */
void store_rollback(struct store *store);

/* A read transaction: all reads in it see one moment of the file. store_read_begin returns whether
 * it began one, for store_read_end; inside a write transaction it begins none. */
bool store_read_begin(struct store *store);
void store_read_end(struct store *store, bool begun);

/* A number that changes with each commit of another connection. */
int store_data_version(struct store *store, int64_t *out);

/* ---- readings, decisions, revisions: all are added inside a transaction ---- */

/* Adds a fact, with the upload that it came in. */
int store_add_reading(struct store *store, const struct reading *reading, int64_t upload_id);
int store_add_decision(struct store *store, const struct decision *decision, int64_t upload_id);

/* The event as stored: documents, readings in order of arrival, decisions. Owner: the caller. A
 * reading or decision that does not read is left out and listed by store_unreadable.
 * Returns ERR_INPUT where a document does not read (a damaged file). */
int store_load_event(struct store *store, struct model **out);

/* The facts that the last load left out; borrowed until the next load. */
const struct damaged_facts *store_unreadable(const struct store *store);

/* A revision: what the office sees has a number, and what the public sees another. */
struct stored_revision {
    int64_t office;
    int64_t public_number;
    int64_t committed_ms; /* since 1970 */
    int64_t public_ms;    /* when the public's number last changed */
};

/* The last one; zeros where there is none. */
int store_last_revision(struct store *store, struct stored_revision *out);

/* Adds one, of that moment. */
int store_add_revision(struct store *store, int64_t office, int64_t public_number,
                       int64_t committed_ms);

/* Whether the file is its event's first or stands by for another server. Each takeover begins a
 * new epoch. A file without any is first, of epoch 1. */
struct store_epoch {
    int64_t number; /* from 1 */
    bool standby;
    int64_t made_ms; /* since 1970; 0 where it was never written */
};

/* The one in force. */
int store_last_epoch(struct store *store, struct store_epoch *out);

/* Begins another, inside a transaction. */
int store_add_epoch(struct store *store, const struct store_epoch *epoch);

/* ---- checking facts ---- */

/* Checks whether every fact is as it was taken: the engine's pages and indexes, each fact's link of
 * the chain (see store_chain.h), and whether facts are missing. Nothing is changed.
 * Returns: ERR_OK, also where something is altered, which store_altered lists; ERR_IO; ERR_BUSY;
 * ERR_NOMEM. */
int store_verify(struct store *store);

/* What the last store_verify found; borrowed until the next one. */
const struct damaged_facts *store_altered(const struct store *store);

/* ---- while a server has the file open ---- */

/* Checks that the open file, its log and the log's index are still the files under their names; in
 * a server also that nobody wrote over the event file. store_begin and store_commit check it too,
 * so that nothing is acknowledged that went into a file that nobody will open again.
 * Returns: ERR_OK; ERR_IO, and store_message says why; ERR_BUSY where it cannot be decided now. */
int store_check_file(struct store *store);

/* Notes the last row of each table of facts as one that must stay in the file, for
 * store_check_file. For a server, after it has loaded what others committed; its own commits are
 * noted by themselves. */
int store_note_ends(struct store *store);

/* Where another file has taken the name of the open one: copies the open one to a file of its own
 * beside it, and renames its log, which would damage the other file when that is next opened. Where
 * other bytes were written into the open file itself, its log is all that can be kept. Does nothing
 * where neither is so, or it was done already.
 *   at_end  true: the store is about to be closed, so it is done too where no file has that name
 *   kept    gets the new file's name; the caller frees. NULL where nothing was done
 * Returns: ERR_OK; ERR_IO, ERR_NOMEM: to be tried again. */
int store_rescue(struct store *store, bool at_end, char **kept);

/* True where the engine failed to write or read since the last commit that went well. */
bool store_write_failed(const struct store *store);

/* Commits a write that changes nothing, to see whether the disk takes it. Returns as store_commit.
 */
int store_try_write(struct store *store);

/* Writes into the lock file whether this server can write the event (a writability_word), for
 * cairn doctor. */
void store_write_state(struct store *store, const char *word);

/* Takes the lock again where it could not be taken before, or somebody removed its file. */
void store_retake_lock(struct store *store);

/* ---- copies ---- */

/* A consistent copy into a file, also while others write: written beside it as PATH.part, synced to
 * the disk and moved into place, so that it is whole or not there.
 *   replace  a file that is there is replaced; else it is left as it is
 * Returns: ERR_OK; ERR_CONFLICT where the file is there already; ERR_IO; ERR_NOMEM. */
int store_backup(struct store *store, const char *path, bool replace);

#endif
