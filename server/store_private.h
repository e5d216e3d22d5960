/* SPDX-License-Identifier: MIT */
/* store_private.h - what the files of the store share. Nobody else includes it. */
#ifndef CAIRN_STORE_PRIVATE_H
#define CAIRN_STORE_PRIVATE_H

#include <sqlite3.h>
#include <sys/types.h>
#include <time.h>

#include "store.h"

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
    LOG_MARKS,
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

/* Of store_log.c. */
extern const char store_log_sql[];

/* Which file a name stood for. */
struct file_id {
    dev_t device;
    ino_t inode; /* 0 where it was not there yet */
};
enum { FILE_COUNT = 3 };

/* When the event file's bytes last changed. In between they are changed by who takes the log in. */
struct file_mark {
    struct timespec changed;
    off_t size; /* -1 where it was not looked at yet */
};

/* The last row of a table of facts that is known to be on the disk. */
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
    struct file_mark mark;                /* of the event file, in a server */
    struct fact_end ends[FACT_TABLES];    /* committed */
    struct fact_end pending[FACT_TABLES]; /* with what the open transaction adds */
    int log_pages;                        /* in the log after the last commit */
    bool overwritten;                     /* other bytes stand in the event file */
    bool read_only;                       /* the engine could not open it for writing */
    bool copy;                            /* read into memory */
    bool saved;                           /* see store_save_open */
    bool failed;                          /* the engine failed to write or read */
    enum store_mode mode;
    sqlite3 *db;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    struct textbuf message;
    struct damage unread; /* of the last load */
    struct damage broken; /* of the last look */
};

/* Keeps the engine's message and gives the code that it means to us. */
int store_failed(struct store *s);

/* Writes the number of the schema, which is there already. */
int store_mark_version(struct store *s);

/* Whether the event file's bytes are still those that this store and others like it wrote: where
 * its mark has changed, all of it is read by a connection of its own. For a server's store.
 * Returns: ERR_OK; ERR_INPUT, and `overwritten` is set for good; ERR_BUSY where it cannot be told
 * now. */
int store_look_inside(struct store *s);

/* What the engine itself finds wrong in pages, indexes and tables' texts, added to `damage`. Checks
 * in these texts are passed over by a connection for reading. Returns SQLITE_DONE, or the code of a
 * failure. */
int store_check_pages(sqlite3 *db, struct damage *damage);

/* Has the engine leave the log to store_take_in_log, so that the store knows its own changes. */
void store_keep_log(struct store *s);
/* Takes a long log into the event file, after a commit. */
void store_take_in_log(struct store *s);

/* The prepared statement, NULL where it could not be prepared. */
sqlite3_stmt *store_statement(struct store *s, enum statement which);

/* Bind by name; errors gather in `*bad` for store_run. Texts are borrowed until then. */
void bind_text(sqlite3_stmt *st, const char *name, const char *text, int *bad);
void bind_int(sqlite3_stmt *st, const char *name, int64_t value, int *bad);
void bind_blob(sqlite3_stmt *st, const char *name, const void *bytes, size_t len, int *bad);

/* The next row of a query. Returns true for a row; false at the end or with *err set. */
bool store_next_row(struct store *s, sqlite3_stmt *st, int *err);

/* A copy of a text column for the caller to free; "" for NULL. NULL when memory is out. */
char *store_column_copy(sqlite3_stmt *st, int column);

/* Whether a text column holds this word; not where it is NULL. */
bool store_column_is(sqlite3_stmt *st, int column, const char *word);

/* Runs a statement that gives no rows, and resets it. */
int store_run(struct store *s, sqlite3_stmt *st, int bad);

#endif
