/* SPDX-License-Identifier: MIT */
/* store_private.h - what the files of the store share. Nobody else includes it. */
#ifndef CAIRN_STORE_PRIVATE_H
#define CAIRN_STORE_PRIVATE_H

#include <sqlite3.h>
#include <sys/types.h>
#include <time.h>

#include "store/store.h"

enum statement {
    ADD_UPLOAD,
    ADD_DOCUMENT,
    ADD_READING,
    ADD_DECISION,
    ADD_NOTICE,
    ADD_ENQUIRY,
    ADD_ANSWER,
    ADD_CODE_SECRET,
    ADD_RENEWAL,
    ADD_REVISION,
    ADD_KEY,
    ADD_REVOCATION,
    ALL_KEYS,
    DOCUMENT,
    DOCUMENT_KNOWN,
    ALL_READINGS,
    ALL_DECISIONS,
    LAST_REVISION,
    ALL_NOTICES,
    ALL_ENQUIRIES,
    LAST_SECRET,
    ALL_RENEWALS,
    ADD_REFUSAL,
    ADD_ACKNOWLEDGEMENT,
    ADD_CHANGE_NOTE,
    ALL_ACKNOWLEDGEMENTS,
    OPEN_REFUSALS,
    LOG_PAGE,
    LOG_ENDS,
    DOCUMENT_VERSIONS,
    DATA_VERSION,
    ADD_EPOCH,
    LAST_EPOCH,
    BEGIN,
    BEGIN_READING,
    COMMIT,
    ROLLBACK,
    STATEMENT_COUNT
};

/* Of event_log.c. */
extern const char store_log_sql[];

/* Which file a name stood for. */
struct file_id {
    dev_t device;
    ino_t inode; /* 0 where it was not there yet */
};
enum { FILE_COUNT = 3 };

/* When the event file was last changed, and its size. With a WAL only a checkpoint changes it. */
struct file_stamp {
    struct timespec changed;
    off_t size; /* -1 where it was not read yet */
};

/* The last row of a table of facts. */
enum { FACT_TABLES = 16, LINK_LEN = 16 };
struct fact_end {
    bool there;
    int64_t key;
    unsigned char link[LINK_LEN];
};

struct store {
    char *path;
    int lock;                             /* -1 where none is held */
    struct file_id files[FILE_COUNT];     /* the event file, its log, the log's index */
    struct file_stamp stamp;              /* of the event file, in a server */
    struct fact_end ends[FACT_TABLES];    /* committed */
    struct fact_end pending[FACT_TABLES]; /* with what the open transaction adds */
    int log_pages;                        /* of the log after the last commit */
    bool overwritten;                     /* somebody else wrote over the event file */
    bool read_only;                       /* the engine could not open it for writing */
    bool copy;                            /* read into memory */
    bool saved;                           /* see store_rescue */
    bool failed;                          /* the engine failed to write or read */
    enum store_mode mode;
    sqlite3 *db;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    struct textbuf message;
    struct damaged_facts unreadable; /* of the last load */
    struct damaged_facts altered;    /* found by the last store_verify */
};

/* Keeps the engine's message and gives the code that it means to us. */
int store_failed(struct store *s);

/* Sets the message to a text of ours. Returns `err`. */
int store_fail_with(struct store *s, int err, const char *text);

/* Runs statements that give no rows and have no parameters, without keeping them. */
int store_execute(struct store *s, const char *sql);

/* ---- open.c ---- */

/* Behind the event file's name: of the file, of its log, and of the log's index. */
extern const char *const store_file_suffixes[FILE_COUNT];

/* Settings of a connection that was just opened. */
int store_set_up(struct store *s);

/* ---- memory_copy.c ---- */

/* Opens as STORE_COPY. */
int store_open_copy(struct store *s);

/* ---- backup.c ---- */

/* Copies all pages of one database over those of another, from one moment, also while others write
 * to it. Returns SQLITE_DONE, or the code of a failure. */
int store_copy_pages(sqlite3 *from, sqlite3 *to);

/* ---- chain.c ---- */

/* Adds what the engine itself finds wrong in pages, indexes and schema to `damage`. Through a
 * read-only connection it does not evaluate CHECK constraints. Returns SQLITE_DONE, or the code of
 * a failure. */
int store_check_pages(sqlite3 *db, struct damaged_facts *damage);

/* ---- migrations.c ---- */

/* Checks that it is an event file of a version that is known, before anything is written to it.
 *   may_be_new  an empty file is one
 *   version     gets the file's, 0 for an empty one
 * Returns: ERR_OK; ERR_INPUT for what is no event file, or of a newer program; what the engine
 * says. */
int store_recognise(struct store *s, bool may_be_new, int64_t *version);

/* Brings a file of that version to the newest, one transaction a version. */
int store_migrate(struct store *s, int64_t version);

/* Writes the newest version's number, which the file has already: to see whether it can be written.
 */
int store_write_version(struct store *s);

/* ---- file_check.c ---- */

/* Has the engine make no checkpoints by itself, so that only store_checkpoint changes the event
 * file, and any other change is somebody else's. */
void store_own_checkpoints(struct store *s);
/* Checkpoints a long log into the event file; after a commit. */
void store_checkpoint(struct store *s);

/* ---- statements.c ---- */

/* The prepared statement, NULL where it could not be prepared. */
sqlite3_stmt *store_statement(struct store *s, enum statement which);

/* Bind by name; errors gather in `*bad` for store_run. Texts are borrowed until then. */
void bind_text(sqlite3_stmt *st, const char *name, const char *text, int *bad);
void bind_int(sqlite3_stmt *st, const char *name, int64_t value, int *bad);
/* A key's id, or NULL for 0, as ":key_id". */
void bind_key(sqlite3_stmt *st, int64_t key_id, int *bad);
void bind_blob(sqlite3_stmt *st, const char *name, const void *bytes, size_t len, int *bad);

/* The next row of a query. Returns true for a row; false at the end or with *err set. */
bool store_next_row(struct store *s, sqlite3_stmt *st, int *err);

/* A list that a query fills, a row an item. {.size = sizeof(item)} is an empty one. */
struct stored_list {
    void *items; /* the caller's to free, also after an error */
    size_t used, cap, size;
};

/* The next row of a query, with a place for it at the end of a list. NULL at the end or with *err
 * set. */
void *store_next_item(struct store *s, sqlite3_stmt *st, struct stored_list *list, int *err);

/* A copy of a text column for the caller to free; "" for NULL. NULL when memory is out. */
char *store_column_copy(sqlite3_stmt *st, int column);

/* Whether a text column holds this word; not where it is NULL. */
bool store_column_is(sqlite3_stmt *st, int column, const char *word);

/* Runs a statement that gives no rows, and resets it. */
int store_run(struct store *s, sqlite3_stmt *st, int bad);

#endif
