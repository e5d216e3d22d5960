/* SPDX-License-Identifier: MIT */
/* A copy of an event file while others write to it. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "store/store_private.h"
#include "system/data_dir.h"
#include "system/files.h"

static int wrong(struct store *s, int err, const char *path, const char *what) {
    textbuf_reset(&s->message);
    textbuf_printf(&s->message, "%s: %s", path, what);
    return err;
}

int store_copy_pages(sqlite3 *from, sqlite3 *to) {
    sqlite3_backup *backup = sqlite3_backup_init(to, "main", from, "main");
    /* One step over all pages is one read transaction. */
    int rc = backup == NULL ? sqlite3_errcode(to) : sqlite3_backup_step(backup, -1);
    (void)sqlite3_backup_finish(backup);
    return rc;
}

static int copy_to_file(struct store *s, const char *part) {
    sqlite3 *copy = NULL;
    int err = ERR_OK;
    if (sqlite3_open_v2(part, &copy, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) !=
        SQLITE_OK) {
        err = wrong(s, ERR_IO, part, sqlite3_errmsg(copy));
    } else {
        if (store_copy_pages(s->db, copy) != SQLITE_DONE)
            err = wrong(s, ERR_IO, part, sqlite3_errmsg(copy));
    }
    if (sqlite3_close(copy) != SQLITE_OK && err == ERR_OK)
        err = wrong(s, ERR_IO, part, "the copy could not be closed");
    return err;
}

int store_backup(struct store *s, const char *path, bool replace) {
    char *part = NULL;
    /* It would be replaced under those who have it open. */
    if (replace && file_is_same(s->path, path))
        return wrong(s, ERR_CONFLICT, path, "that is the event file itself");
    if (!replace && access(path, F_OK) == 0)
        return wrong(s, ERR_CONFLICT, path,
                     "is there already (--replace puts the copy in its place)");
    if (asprintf(&part, "%s.part", path) < 0)
        return ERR_NOMEM;
    (void)unlink(part); /* left by a process that was killed in the middle */
    int fd = open(part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
    int err = fd < 0 ? wrong(s, ERR_IO, part, strerror(errno)) : ERR_OK;
    if (fd >= 0)
        (void)close(fd);
    if (err == ERR_OK)
        err = copy_to_file(s, part);
    if (err == ERR_OK) {
        data_dir_give(part);
        err = file_put(part, path, replace);
        if (err != ERR_OK)
            (void)wrong(s, err, path, err == ERR_CONFLICT ? "is there already" : strerror(errno));
    }
    if (err != ERR_OK && fd >= 0)
        (void)unlink(part);
    free(part);
    return err;
}
