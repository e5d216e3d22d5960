/* SPDX-License-Identifier: MIT */
/* store.h - the event file: the only way to SQLite.
 * One store is one connection to one DATA_DIR/SLUG.cairn. Facts are added inside a transaction
 * that the caller opens; acknowledged means committed with synchronous=FULL. Not thread-safe: one
 * owner at a time. `store_message` says what went wrong. */
#ifndef CAIRN_STORE_H
#define CAIRN_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/seal.h"
#include "base/textbuf.h"
#include "event/event.h"
#include "office/doubt_id.h"
#include "store/crew_code.h"
#include "store/damaged_facts.h"

struct store;

/* "cair": application_id of every event file. */
#define STORE_APPLICATION_ID 0x63616972

enum store_mode {
    STORE_CREATE,    /* make the file where it is not there */
    STORE_FOLLOW,    /* the same, for cairn follow */
    STORE_OPEN,      /* the file must be there */
    STORE_SERVE,     /* the same, for a server */
    STORE_EXCLUSIVE, /* the same, and nobody else may be at work on it */
    STORE_READ,      /* the same, to be read beside its writer: nothing is ever changed */
    STORE_COPY /* as it is now, read into memory: needs no file beside it, so that it works on a
                  disk that is full or may not be written. Never in a process that has the file
                  open in another mode: that one's locks would be lost */
};

/* Opens an event file and brings it to the newest schema. But for STORE_READ and STORE_COPY a share
 * of its lock is held until store_close (see store_lock.h).
 *   path    the file
 *   why     gets why it failed; may be NULL
 * Returns: ERR_OK; ERR_UNKNOWN (not there); ERR_INPUT (no event file, damaged, or made by a newer
 * program); ERR_BUSY, ERR_CONFLICT (others are at work on it); ERR_IO; ERR_NOMEM. */
int store_open(const char *path, enum store_mode mode, struct store **out, struct textbuf *why);

/* As store_open; but where the machine does not let it be opened in that mode it is read as
 * STORE_COPY, and store_message says why. */
int store_open_to_read(const char *path, enum store_mode mode, struct store **out,
                       struct textbuf *why);

/* True where nothing can be written: a file of another user, a copy in memory. */
bool store_is_read_only(const struct store *store);

/* True for STORE_COPY, also where store_open_to_read came to it. */
bool store_is_copy(const struct store *store);

/* True where the engine last failed to write or read; a commit that goes well ends it. */
bool store_write_failed(const struct store *store);

/* Writes what is there already, to see whether the disk takes it. */
int store_try_write(struct store *store);

/* Writes into the lock file whether this server can write the event (a writability_word), for
 * programs that check on it; see doctor.h. */
void store_write_state(struct store *store, const char *word);

/* Takes the lock again where there was none to be had, or somebody removed its file. */
void store_retake_lock(struct store *store);

/* Whether the file that is open, and what the engine keeps beside it, is still what stands under
 * its name; in a server also whether somebody wrote over it. store_begin and store_commit ask it
 * too, so that nothing is acknowledged that went into a file without a name, or a spoilt one.
 * Returns: ERR_OK; ERR_IO, and store_message says why; ERR_BUSY where it cannot be decided now. */
int store_check_file(struct store *store);

/* Closes; NULL is accepted. An open transaction is rolled back. */
void store_close(struct store *store);

/* Why the last call failed; borrowed until the next call. */
const char *store_message(const struct store *store);

/* Where another file stands under the name of the one that is open: keeps what is open as a file of
 * its own, and takes what the engine keeps beside it away from the other one, which it would spoil
 * when that is next opened. Where other bytes were written into the file itself, the log is all
 * that can be kept. Does nothing where it was done, or another file does not stand there.
 *   at_end  also where no file stands there: it may not be put back before the store is closed
 *   kept  gets the kept file's name; the caller frees. NULL where nothing was done
 * Returns: ERR_OK; ERR_IO, ERR_NOMEM: to be tried again. */
int store_rescue(struct store *store, bool at_end, char **kept);

/* Transactions. store_begin takes the write lock at once. store_commit fails also where the file
 * was removed or replaced meanwhile; what was written is then in no file that others see. */
int store_begin(struct store *store);
int store_commit(struct store *store);
void store_rollback(struct store *store);

/* Several reads of one moment. store_read_begin returns true where it began one, which
 * store_read_end is to be told; inside a transaction there is nothing to begin. */
bool store_read_begin(struct store *store);
void store_read_end(struct store *store, bool begun);

/* A number that changes when another connection has committed. */
int store_data_version(struct store *store, int64_t *out);

/* Notes what the file holds now as what must not go from it any more: for a server, which calls it
 * where it has taken in what others committed; its own commits are noted by themselves. See
 * store_check_file. */
int store_note_ends(struct store *store);

/* Facts. All must be called inside a transaction.
 *   key_id  0 for none
 *   id      gets the row's id; may be NULL */
int store_add_upload(struct store *store, int64_t received_ms, const char *source, int64_t key_id,
                     const char *kind, const char *media_type, const void *body, size_t len,
                     int64_t *id);
int store_add_document(struct store *store, const char *name, int64_t upload_id);
int store_add_reading(struct store *store, const struct reading *reading, int64_t upload_id);
int store_add_decision(struct store *store, const struct decision *decision, int64_t upload_id);
int store_add_revision(struct store *store, int64_t office, int64_t public_number,
                       int64_t committed_ms);

/* Whether the file is its event's first or stands by for another server. Each takeover begins a
 * new epoch. A file without any is first, of epoch 1. */
struct store_epoch {
    int64_t number; /* from 1 */
    bool standby;
    int64_t made_ms; /* when this was written; 0 where it never was */
};
int store_last_epoch(struct store *store, struct store_epoch *out);
/* Adds one, inside a transaction. */
int store_add_epoch(struct store *store, const struct store_epoch *epoch);

/* Keys. */
struct stored_key {
    int64_t id;
    unsigned char hash[32];
    bool organiser;
    bool revoked;
    char *points; /* "" for all */
    char *label;
    int64_t created_ms;
};
int store_add_key(struct store *store, const unsigned char hash[32], bool organiser,
                  const char *points, const char *label, int64_t created_ms, int64_t *id);
/* Returns ERR_UNKNOWN where no such key is in force. */
int store_revoke_key(struct store *store, int64_t key_id, int64_t revoked_ms);
/* All keys, revoked ones too. Owner: the caller, see stored_keys_free. */
int store_keys(struct store *store, struct stored_key **out, size_t *count);
void stored_keys_free(struct stored_key *keys, size_t count);

/* Reading back. */

/* The document in force. Returns ERR_OK; ERR_UNKNOWN where there is none. The caller frees. */
int store_document(struct store *store, const char *name, char **text, size_t *len);

/* Whether a document has ever been in force with this very text. */
int store_document_known(struct store *store, const char *name, const char *text, size_t len,
                         bool *known);

/* The event as stored: documents, readings in order of arrival, decisions. Owner: the caller. A
 * reading or decision that does not read is left out and listed by store_unreadable.
 * Returns ERR_INPUT where a document does not read (a damaged file). */
int store_load_event(struct store *store, struct model **out);

/* The facts that the last load had to leave out; borrowed until the next. */
const struct damaged_facts *store_unreadable(const struct store *store);

/* Looks whether every fact is as it was taken: the engine's pages and indexes, each fact's link of
 * the chain (see store_chain.h), and whether facts are missing. Nothing is changed.
 * Returns: ERR_OK, also where something is altered, which store_altered lists; ERR_IO; ERR_BUSY;
 * ERR_NOMEM. */
int store_verify(struct store *store);

/* What the last store_verify found; borrowed until the next. */
const struct damaged_facts *store_altered(const struct store *store);

/* The last revision, and when the public's number last changed; zeros where there is none. */
struct stored_revision {
    int64_t office;
    int64_t public_number;
    int64_t committed_ms;
    int64_t public_ms;
};
int store_last_revision(struct store *store, struct stored_revision *out);

/* A notice; its seal is that of `content`. */
struct stored_notice {
    int64_t number; /* from 1, without gaps */
    int64_t posted_ms;
    char *title;
    char *body;
    char *kind;               /* "bulletin", "provisional" or "final" */
    char *content;            /* canonical JSON; NULL of a notice made before there were seals */
    struct seal seal;         /* where there is content */
    int64_t protest_until_ms; /* 0 where there is none */
    int64_t supersedes;       /* the notice that it replaces, 0 for none */
    char *basis;              /* the facts that a classification was made from; else "" */
};
/* Adds one inside a transaction; its number is the caller's to choose. */
int store_add_notice(struct store *store, const struct stored_notice *notice, int64_t upload_id);
/* All notices in their order. Owner: the caller, see stored_notices_free. */
int store_notices(struct store *store, struct stored_notice **out, size_t *count);
void stored_notices_free(struct stored_notice *list, size_t count);

/* A case of a crew, and its answer. */
struct stored_enquiry {
    int64_t number;
    int64_t opened_ms;
    char *kind; /* "enquiry" or "protest" */
    char *car;
    char *point;
    char *text;
    bool by_crew;        /* opened with the crew's own code, not by the office */
    int64_t answered_ms; /* 0 while it is open */
    char *outcome;       /* "answered", "upheld", "rejected" or "withdrawn"; "" while it is open */
    char *answer;
};
/* Add inside a transaction: the body is kept as it was sent. `number` gets the case's; an answer
 * names a case that is open. */
int store_add_enquiry(struct store *store, const struct stored_enquiry *enquiry, int64_t key_id,
                      const char *body, size_t len, int64_t *number);
int store_add_answer(struct store *store, const struct stored_enquiry *enquiry, int64_t key_id,
                     const char *body, size_t len);
/* All cases in their order. Owner: the caller, see stored_enquiries_free. */
int store_enquiries(struct store *store, struct stored_enquiry **out, size_t *count);
/* The number of the car that a case is of. */
int64_t stored_enquiry_car(const struct stored_enquiry *enquiry);
void stored_enquiries_free(struct stored_enquiry *list, size_t count);

/* A row of an upload of readings that was not taken, as it was written. */
struct stored_refusal {
    int64_t row;   /* of the upload, from 1; 0 for all that are not kept each by itself, whose
                      `reading_id` begins with their number */
    char *case_id; /* the same for the same row, reason and key, however often it is sent */
    char *point, *car, *time, *elapsed, *faults;
    char *reading_id; /* given, or what it would have been */
    char *reason;
    /* what is read back beside it */
    int64_t times; /* how often it was refused */
    int64_t upload, received_ms, key_id;
    char *label; /* of the key, "" for none */
};
/* Adds one inside a transaction. */
int store_add_refusal(struct store *store, const struct stored_refusal *refusal, int64_t upload_id);
/* Those that wait for somebody, the latest first: a reading of their id was not taken later, and
 * nobody acknowledged them. Owner: the caller, see stored_refusals_free. */
int store_open_refusals(struct store *store, struct stored_refusal **out, size_t *count);
void stored_refusals_free(struct stored_refusal *list, size_t count);

/* A doubtful thing that somebody acknowledged, or took up again. */
struct stored_acknowledgement {
    int64_t made_ms;
    char *case_id;
    bool reopened;
    char *car, *point; /* "" for none */
    char *title;       /* what was doubtful */
    char *made_by, *reason;
};
/* Adds one inside a transaction. */
int store_add_acknowledgement(struct store *store,
                              const struct stored_acknowledgement *acknowledgement, int64_t key_id);
/* The latest of each case, the newest first. Owner: the caller, see stored_acknowledgements_free.
 */
int store_acknowledgements(struct store *store, struct stored_acknowledgement **out, size_t *count);
void stored_acknowledgements_free(struct stored_acknowledgement *list, size_t count);
/* That of a case, NULL where there is none; borrowed. */
const struct stored_acknowledgement *
stored_acknowledgement_of(const struct stored_acknowledgement *list, size_t count,
                          const char *case_id);

/* Who replaced a document and why, and from which day on it is so; "" where nobody said. */
struct change_note {
    const char *made_by, *reason, *since;
};
int store_add_change_note(struct store *store, const struct change_note *note, int64_t upload_id);

/* What crews' codes are made from: the secret, and the cars whose code was renewed. */
struct code_renewal {
    int64_t car;    /* its number */
    int64_t serial; /* from 1 */
    int64_t renewed_ms;
};
struct code_book {
    unsigned char secret[CODE_SECRET_LEN];
    int64_t made_ms; /* when the secret was made */
    struct code_renewal *renewals;
    size_t count;
};
/* Add inside a transaction. A secret that is added takes the place of the one before, and every
 * code changes; `store_make_code_secret` makes a random one. Each event file has one from its
 * beginning. */
int store_add_code_secret(struct store *store, const unsigned char secret[CODE_SECRET_LEN],
                          int64_t made_ms);
int store_make_code_secret(struct store *store, int64_t made_ms);
int store_add_renewal(struct store *store, const struct code_renewal *renewal, int64_t key_id);
/* The book in force. Owner: the caller, see code_book_clear. Returns ERR_UNKNOWN where the file has
 * lost its secret. */
int store_code_book(struct store *store, struct code_book *out);
/* How often a car's code was renewed. */
int64_t code_book_serial(const struct code_book *book, int64_t car);
/* Wipes the secret and frees what the book owns. */
void code_book_clear(struct code_book *book);

/* A consistent copy into a file, also while others write: written beside it as PATH.part, brought
 * to the disk and moved into place, so that it is whole or not there.
 *   replace  a file that is there is replaced; else it is left as it is
 * Returns: ERR_OK; ERR_CONFLICT where the file is there already; ERR_IO; ERR_NOMEM. */
int store_backup(struct store *store, const char *path, bool replace);

/* The newest schema that this program knows. */
int64_t store_newest_version(void);

/* What store_examine finds. A plain value; store_condition_clear frees what it owns. */
struct store_condition {
    int64_t version; /* of the file's schema */
    int64_t newest;  /* the newest that this program knows; the file may be past it */
    int64_t readings;
    int64_t decisions;
    struct store_epoch epoch;    /* where the schema is the newest */
    struct damaged_facts damage; /* facts that do not read or are broken, likewise */
};

/* Looks an event file over without changing it, also while others write: whose it is, its schema,
 * whether its pages are consistent, each fact and its link of the chain.
 *   why  gets what is wrong with the file as a whole
 * Returns: ERR_OK, and `out` is filled, damaged facts too; ERR_INPUT where it is damaged as a whole
 * or no event file; ERR_IO where it cannot be read; ERR_NOMEM. */
int store_examine(const char *path, struct store_condition *out, struct textbuf *why);
void store_condition_clear(struct store_condition *condition);

#endif
