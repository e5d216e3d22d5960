/* SPDX-License-Identifier: MIT */
/* store_examine.c - looks an event file over and changes nothing in it. */
#include <sqlite3.h>
#include <string.h>

#include "err.h"
#include "store_private.h"

static const char *const questions[] = {
    "PRAGMA application_id",        "PRAGMA user_version",           "PRAGMA quick_check(1)",
    "SELECT count(*) FROM reading", "SELECT count(*) FROM decision",
};
enum { OF_WHOM, OF_VERSION, OF_DAMAGE, OF_READINGS, OF_DECISIONS };

/* The first column of the first row, as a number, or as a text where `text` is given. */
static int ask(sqlite3 *db, const char *question, int64_t *number, struct textbuf *text) {
    sqlite3_stmt *st = NULL;
    int err = ERR_OK;
    if (sqlite3_prepare_v2(db, question, -1, &st, NULL) != SQLITE_OK ||
        sqlite3_step(st) != SQLITE_ROW)
        err = ERR_IO;
    else if (text != NULL)
        textbuf_puts(text, (const char *)sqlite3_column_text(st, 0));
    else
        *number = sqlite3_column_int64(st, 0);
    (void)sqlite3_finalize(st);
    return err;
}

int store_examine(const char *path, struct store_condition *out, struct textbuf *why) {
    sqlite3 *db = NULL;
    int64_t of_whom = 0;
    struct textbuf damage = {0};
    *out = (struct store_condition){.newest = store_newest_version()};
    int err =
        sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL) == SQLITE_OK
            ? ERR_OK
            : ERR_IO;
    if (db != NULL)
        (void)sqlite3_busy_timeout(db, 5000);
    if (err == ERR_OK)
        err = ask(db, questions[OF_WHOM], &of_whom, NULL);
    if (err == ERR_OK && of_whom != STORE_APPLICATION_ID) {
        textbuf_puts(why, "this is no event file");
        err = ERR_INPUT;
    }
    if (err == ERR_OK)
        err = ask(db, questions[OF_VERSION], &out->version, NULL);
    if (err == ERR_OK)
        err = ask(db, questions[OF_DAMAGE], NULL, &damage);
    if (err == ERR_OK && strcmp(textbuf_text(&damage), "ok") != 0) {
        textbuf_puts(why, textbuf_text(&damage));
        err = ERR_INPUT;
    }
    if (err == ERR_OK)
        err = ask(db, questions[OF_READINGS], &out->readings, NULL);
    if (err == ERR_OK)
        err = ask(db, questions[OF_DECISIONS], &out->decisions, NULL);
    if (err == ERR_IO) {
        textbuf_puts(why, db == NULL ? "out of memory" : sqlite3_errmsg(db));
        if (db != NULL &&
            (sqlite3_errcode(db) == SQLITE_CORRUPT || sqlite3_errcode(db) == SQLITE_NOTADB))
            err = ERR_INPUT;
    }
    textbuf_clear(&damage);
    (void)sqlite3_close(db);
    return err;
}
