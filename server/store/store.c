/* SPDX-License-Identifier: MIT */
/* Transactions, and what is known of the file as a whole. */
#include "store/store.h"

#include <sqlite3.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

static int run_plain(struct store *s, enum statement which) {
    return store_run(s, store_statement(s, which), SQLITE_OK);
}

const char *store_message(const struct store *s) {
    return textbuf_text(&s->message);
}

int store_begin(struct store *s) {
    if (s->read_only) {
        textbuf_reset(&s->message);
        textbuf_puts(&s->message, "the event file can only be read");
        return ERR_IO;
    }
    int err = store_check_file(s);
    return err == ERR_OK ? run_plain(s, BEGIN) : err;
}

bool store_read_begin(struct store *s) {
    return sqlite3_get_autocommit(s->db) && run_plain(s, BEGIN_READING) == ERR_OK;
}

void store_read_end(struct store *s, bool begun) {
    if (begun)
        store_rollback(s);
}

int store_commit(struct store *s) {
    int err = store_check_file(s);
    if (err == ERR_OK)
        err = run_plain(s, COMMIT);
    if (err != ERR_OK) {
        store_rollback(s);
        return err;
    }
    s->failed = false;
    memcpy(s->ends, s->pending, sizeof s->ends);
    /* Between the check and the commit it may have gone. */
    err = store_check_file(s);
    if (err == ERR_OK)
        store_checkpoint(s);
    return err;
}

void store_rollback(struct store *s) {
    /* Where the engine has rolled back by itself (a full disk), there is nothing to do. The
     * message of what went wrong first is kept. */
    if (!sqlite3_get_autocommit(s->db))
        (void)sqlite3_step(store_statement(s, ROLLBACK));
    if (s->statements[ROLLBACK] != NULL)
        (void)sqlite3_reset(s->statements[ROLLBACK]);
    memcpy(s->pending, s->ends, sizeof s->pending);
}

bool store_write_failed(const struct store *s) {
    return s->failed;
}

int store_try_write(struct store *s) {
    int err = store_begin(s);
    if (err != ERR_OK)
        return err;
    err = store_write_version(s);
    if (err == ERR_OK)
        return store_commit(s);
    store_rollback(s);
    return err;
}

int store_data_version(struct store *s, int64_t *out) {
    sqlite3_stmt *st = store_statement(s, DATA_VERSION);
    if (st == NULL || sqlite3_step(st) != SQLITE_ROW)
        return store_failed(s);
    *out = sqlite3_column_int64(st, 0);
    (void)sqlite3_reset(st);
    return ERR_OK;
}
