/* SPDX-License-Identifier: MIT */
#include "store/examine.h"

#include <errno.h>
#include <sqlite3.h>
#include <string.h>
#include <sys/stat.h>

#include "base/err.h"
#include "store/store_private.h"

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

/* A read-only connection does not evaluate the CHECK constraints in the schema, and so does not see
 * that one of them is damaged, which a connection for writing fails on. A copy in memory can be
 * written, so it is checked with its constraints. */
static int examine_checks(struct store *s, struct damaged_facts *damage) {
    sqlite3 *copy = NULL;
    int rc = sqlite3_open_v2(":memory:", &copy, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL);
    if (rc == SQLITE_OK)
        rc = store_copy_pages(s->db, copy);
    if (rc == SQLITE_DONE)
        rc = store_check_pages(copy, damage);
    (void)sqlite3_close(copy);
    return rc == SQLITE_DONE ? ERR_OK : rc == SQLITE_NOMEM ? ERR_NOMEM : ERR_IO;
}

/* Facts one by one, and the epoch of the file. */
static int examine_facts(const char *path, struct store_condition *out, struct textbuf *why) {
    struct store *s = NULL;
    struct model *model = NULL;
    int err = store_open_to_read(path, STORE_READ, &s, why);
    if (err != ERR_OK)
        return err;
    bool begun = store_read_begin(s);
    err = store_last_epoch(s, &out->epoch);
    if (err == ERR_OK)
        err = store_load_event(s, &model);
    if (err == ERR_OK)
        err = store_verify(s);
    if (err == ERR_OK && store_altered(s)->count == 0)
        err = examine_checks(s, &out->damage);
    if (err == ERR_OK) {
        damaged_facts_add_all(&out->damage, store_altered(s));
        damaged_facts_add_all(&out->damage, store_unreadable(s));
        out->version = out->newest; /* of a copy in memory, at least */
        if (out->readings < 0) {
            out->readings = readings_count(model->readings);
            out->decisions = decisions_count(model->decisions);
        }
    } else {
        textbuf_puts(why, *store_message(s) != '\0' ? store_message(s) : err_text(err));
    }
    store_read_end(s, begun);
    model_free(model);
    store_close(s);
    return err;
}

/* A pipe or a device of that name would be waited for, maybe for ever. */
static int is_file(const char *path, struct textbuf *why) {
    struct stat info;
    if (stat(path, &info) != 0) {
        textbuf_puts(why, strerror(errno));
        return ERR_IO;
    }
    if (!S_ISREG(info.st_mode)) {
        textbuf_puts(why, "this is no plain file");
        return ERR_INPUT;
    }
    if (info.st_size == 0) { /* the engine would remove a log beside it */
        textbuf_puts(why, "this is no event file: it is empty");
        return ERR_INPUT;
    }
    return ERR_OK;
}

void store_condition_clear(struct store_condition *condition) {
    damaged_facts_clear(&condition->damage);
}

int store_examine(const char *path, struct store_condition *out, struct textbuf *why) {
    sqlite3 *db = NULL;
    int64_t of_whom = 0;
    struct textbuf damage = {0};
    *out = (struct store_condition){.newest = store_newest_version()};
    int err = is_file(path, why);
    if (err != ERR_OK)
        return err;
    if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL) != SQLITE_OK)
        err = ERR_IO;
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
    if (err == ERR_IO) { /* on a disk that is full or may not be written, maybe */
        textbuf_reset(why);
        out->version = out->newest;
        out->readings = -1;
        err = ERR_OK;
    }
    if (err == ERR_OK && out->version == out->newest)
        err = examine_facts(path, out, why);
    return err;
}
