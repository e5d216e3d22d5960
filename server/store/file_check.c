/* SPDX-License-Identifier: MIT */
/* Checks that the event file that is open is still the one under its name, and that its bytes are
 * still those that were written: a copy that somebody puts there with cp keeps the inode and
 * replaces the bytes. */
#include <errno.h>
#include <sqlite3.h>
#include <stdio.h>
#include <sys/stat.h>

#include "base/err.h"
#include "store/store_chain.h"
#include "store/store_private.h"

/* ---- its bytes ---- */

/* The engine's own default. */
enum { LOG_PAGES_MOST = 1000 };

static bool read_stamp(const struct store *s, struct file_stamp *out) {
    struct stat now;
    if (stat(s->path, &now) != 0)
        return false;
    *out = (struct file_stamp){now.st_mtim, now.st_size};
    return true;
}

static bool is_same(const struct file_stamp *a, const struct file_stamp *b) {
    return a->size == b->size && a->changed.tv_sec == b->changed.tv_sec &&
           a->changed.tv_nsec == b->changed.tv_nsec;
}

/* Reads the file through a second connection: this store's page cache would hide the change.
 * Connections of one process share the engine's locks, so that closing the second loses none. For
 * that the engine keeps its descriptor open, and takes it for the next reading: there is never more
 * than one. */
static int read_again(const struct store *s) {
    struct store *other = NULL;
    bool reaches = false;
    int err = store_open(s->path, STORE_READ, &other, NULL);
    if (err == ERR_OK)
        err = store_verify(other);
    if (err == ERR_OK && store_altered(other)->count > s->altered.count)
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = store_chain_reaches(other, s->ends, &reaches);
    if (err == ERR_OK && !reaches)
        err = ERR_INPUT;
    store_close(other);
    return err == ERR_OK || err == ERR_INPUT ? err : ERR_BUSY;
}

/* Where its stamp has changed, reads the whole file.
 * Returns: ERR_OK; ERR_INPUT where somebody wrote over it, and `overwritten` is set for good;
 * ERR_BUSY where it cannot be decided now. */
static int check_content(struct store *s) {
    struct file_stamp now;
    if (s->overwritten)
        return ERR_INPUT;
    if (!read_stamp(s, &now) || is_same(&now, &s->stamp))
        return ERR_OK;
    /* Mostly another command made a checkpoint: then all is there. An empty file is not even
     * opened: the engine would remove its log. */
    int err = s->stamp.size < 0 ? ERR_OK : now.size == 0 ? ERR_INPUT : read_again(s);
    if (err == ERR_OK)
        s->stamp = now;
    s->overwritten = err == ERR_INPUT;
    return err;
}

static int note_log(void *context, sqlite3 *db, const char *name, int pages) {
    (void)db;
    (void)name;
    ((struct store *)context)->log_pages = pages;
    return SQLITE_OK;
}

void store_own_checkpoints(struct store *s) {
    (void)sqlite3_wal_hook(s->db, note_log, s);
}

void store_checkpoint(struct store *s) {
    if (s->mode != STORE_SERVE || s->copy || s->log_pages < LOG_PAGES_MOST)
        return;
    s->log_pages = 0;
    (void)sqlite3_wal_checkpoint_v2(s->db, "main", SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
    (void)read_stamp(s, &s->stamp);
}

/* ---- its name ---- */

enum file_state { FILE_STANDS, FILE_GONE, FILE_REPLACED };

/* Of the file, its log and the log's index. By name: to open one of them and close it would release
 * the locks that the engine has on it, which belong to the process. */
static enum file_state file_state(struct store *s) {
    for (int i = 0; i < FILE_COUNT; i++) {
        char name[4096];
        struct stat now;
        if ((size_t)snprintf(name, sizeof name, "%s%s", s->path, store_file_suffixes[i]) >=
            sizeof name)
            return FILE_STANDS;
        if (stat(name, &now) != 0) {
            if (errno == ENOENT && s->files[i].inode != 0)
                return FILE_GONE;
            continue; /* a log that is not there yet; a folder that cannot be read now */
        }
        if (s->files[i].inode == 0)
            s->files[i] = (struct file_id){now.st_dev, now.st_ino};
        else if (s->files[i].device != now.st_dev || s->files[i].inode != now.st_ino)
            return FILE_REPLACED;
    }
    return FILE_STANDS;
}

int store_check_file(struct store *s) {
    static const char *const words[] = {
        [FILE_GONE] = "the event file, or a file beside it, was removed while it was open",
        [FILE_REPLACED] = "the event file, or a file beside it, was replaced while it was open"};
    enum file_state state = s->copy ? FILE_STANDS : file_state(s);
    if (state != FILE_STANDS)
        return store_fail_with(s, ERR_IO, words[state]);
    int err = s->mode == STORE_SERVE && !s->copy ? check_content(s) : ERR_OK;
    if (err == ERR_INPUT)
        return store_fail_with(s, ERR_IO, "the event file was written over while it was open");
    return err == ERR_OK
               ? ERR_OK
               : store_fail_with(s, ERR_BUSY, "the event file changed, and cannot be read");
}
