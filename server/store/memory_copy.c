/* SPDX-License-Identifier: MIT */
/* An event file read into memory, where nothing can be written beside it. */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/err.h"
#include "format/percent.h"
#include "store/store_private.h"

/* "file:" and the path, for options that only an address can give. */
static char *address_of(const char *path) {
    struct textbuf b = {0};
    textbuf_puts(&b, "file:");
    percent_write(&b, path, "/");
    textbuf_puts(&b, "?immutable=1");
    char *out = b.failed ? NULL : strdup(textbuf_text(&b));
    textbuf_clear(&b);
    return out;
}

/* Copies an open file into memory. */
static int copy_from(struct store *s, sqlite3 *from) {
    int rc = store_copy_pages(from, s->db);
    if (rc == SQLITE_DONE)
        return ERR_OK;
    (void)store_fail_with(s, ERR_IO,
                          rc == SQLITE_ERROR ? sqlite3_errmsg(s->db) : sqlite3_errstr(rc));
    return rc == SQLITE_NOMEM                            ? ERR_NOMEM
           : rc == SQLITE_CORRUPT || rc == SQLITE_NOTADB ? ERR_INPUT
                                                         : ERR_IO;
}

/* Where no file can be made beside it (the disk is full, or mounted read-only) the engine cannot
 * share the file's log with others. So the file and its log are read once, without any lock, and
 * nothing is written. */
static int read_through(struct store *s) {
    sqlite3 *from = NULL;
    int err = sqlite3_open_v2(s->path, &from, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX,
                              "unix-none") == SQLITE_OK
                  ? ERR_OK
                  : store_fail_with(s, ERR_IO, sqlite3_errmsg(from));
    if (err == ERR_OK) {
        (void)sqlite3_db_config(from, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
        (void)sqlite3_exec(from, "PRAGMA locking_mode = EXCLUSIVE", NULL, NULL, NULL);
        err = copy_from(s, from);
    }
    (void)sqlite3_close(from);
    return err;
}

/* A file without a log is complete by itself: the engine needs no file beside it. */
static int read_unchanging(struct store *s) {
    sqlite3 *from = NULL;
    char *address = address_of(s->path);
    if (address == NULL)
        return ERR_NOMEM;
    int err = sqlite3_open_v2(address, &from,
                              SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_URI,
                              NULL) == SQLITE_OK
                  ? copy_from(s, from)
                  : store_fail_with(s, ERR_IO, sqlite3_errmsg(from));
    (void)sqlite3_close(from);
    free(address);
    return err;
}

int store_open_copy(struct store *s) {
    char *log = NULL;
    struct stat info;
    int64_t version = 0;
    if (asprintf(&log, "%s-wal", s->path) < 0)
        return ERR_NOMEM;
    bool logged = stat(log, &info) == 0 && info.st_size > 0;
    free(log);
    s->read_only = s->copy = true;
    if (sqlite3_open_v2(":memory:", &s->db,
                        SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX,
                        NULL) != SQLITE_OK)
        return store_failed(s);
    int err = logged ? read_through(s) : read_unchanging(s);
    if (err == ERR_OK)
        err = store_set_up(s);
    if (err == ERR_OK)
        err = store_recognise(s, false, &version);
    if (err == ERR_OK)
        err = store_migrate(s, version); /* of the copy */
    return err == ERR_OK ? store_execute(s, "PRAGMA query_only = ON") : err;
}
