/* SPDX-License-Identifier: MIT */
/* Whether somebody wrote over an event file that a server has open: a copy put in with cp keeps the
 * file's inode and replaces its bytes. */
#include <sqlite3.h>
#include <sys/stat.h>

#include "base/err.h"
#include "store/store_chain.h"
#include "store/store_private.h"

/* As the engine's own. */
enum { LOG_PAGES_MOST = 1000 };

static bool take_mark(const struct store *s, struct file_mark *out) {
    struct stat now;
    if (stat(s->path, &now) != 0)
        return false;
    *out = (struct file_mark){now.st_mtim, now.st_size};
    return true;
}

static bool is_same(const struct file_mark *a, const struct file_mark *b) {
    return a->size == b->size && a->changed.tv_sec == b->changed.tv_sec &&
           a->changed.tv_nsec == b->changed.tv_nsec;
}

/* Read anew from the disk: what this store keeps of the file in memory would hide the change.
 * Connections of one process share the engine's locks, so that closing this one loses none. */
static int read_anew(const struct store *s) {
    struct store *other = NULL;
    bool reaches = false;
    int err = store_open(s->path, STORE_READ, &other, NULL);
    if (err == ERR_OK)
        err = store_verify(other);
    if (err == ERR_OK && store_broken(other)->found > s->broken.found)
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = store_chain_reaches(other, s->ends, &reaches);
    if (err == ERR_OK && !reaches)
        err = ERR_INPUT;
    store_close(other);
    return err == ERR_OK || err == ERR_INPUT ? err : ERR_BUSY;
}

int store_look_inside(struct store *s) {
    struct file_mark now;
    if (s->overwritten)
        return ERR_INPUT;
    if (!take_mark(s, &now) || is_same(&now, &s->mark))
        return ERR_OK;
    /* Changed by another command that took the log in, mostly: then all is there. An empty file
     * is not even opened: the engine would remove its log. */
    int err = s->mark.size < 0 ? ERR_OK : now.size == 0 ? ERR_INPUT : read_anew(s);
    if (err == ERR_OK)
        s->mark = now;
    s->overwritten = err == ERR_INPUT;
    return err;
}

static int note_log(void *context, sqlite3 *db, const char *name, int pages) {
    (void)db;
    (void)name;
    ((struct store *)context)->log_pages = pages;
    return SQLITE_OK;
}

void store_keep_log(struct store *s) {
    (void)sqlite3_wal_hook(s->db, note_log, s);
}

void store_take_in_log(struct store *s) {
    if (s->mode != STORE_SERVE || s->copy || s->log_pages < LOG_PAGES_MOST)
        return;
    s->log_pages = 0;
    (void)sqlite3_wal_checkpoint_v2(s->db, "main", SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
    (void)take_mark(s, &s->mark);
}
