/* SPDX-License-Identifier: MIT */
/* Opening an event file, and closing it. */
#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/err.h"
#include "store/store_chain.h"
#include "store/store_lock.h"
#include "store/store_private.h"
#include "system/data_dir.h"

const char *const store_file_suffixes[FILE_COUNT] = {"", "-wal", "-shm"};

static bool creates(enum store_mode mode) {
    return mode == STORE_CREATE || mode == STORE_FOLLOW;
}

/* Not left to the engine: for owner and group only, and given to its folder's owner. */
static int make_file(struct store *s) {
    int fd = open(s->path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
    if (fd >= 0) {
        (void)close(fd);
        data_dir_give(s->path);
    } else if (errno != EEXIST) {
        textbuf_reset(&s->message);
        textbuf_printf(&s->message, "unable to open database file: %s", strerror(errno));
        return ERR_IO;
    }
    return ERR_OK;
}

static int lock(struct store *s) {
    enum store_holder who = s->mode == STORE_SERVE    ? HOLDER_SERVER
                            : s->mode == STORE_FOLLOW ? HOLDER_FOLLOWER
                                                      : HOLDER_COMMAND;
    textbuf_reset(&s->message);
    return s->mode == STORE_EXCLUSIVE ? store_lock_exclusive(s->path, &s->lock, &s->message)
                                      : store_lock_shared(s->path, who, &s->lock, &s->message);
}

/* How long to wait for the lock of another writer. A busy server on a slow disk releases it for
 * moments only, so that a command may have to try for long. */
enum { SERVER_WAIT_MS = 5000, COMMAND_WAIT_MS = 30000 };

int store_set_up(struct store *s) {
    (void)sqlite3_extended_result_codes(s->db, 0);
    bool serves = s->mode == STORE_SERVE || s->mode == STORE_READ;
    (void)sqlite3_busy_timeout(s->db, serves ? SERVER_WAIT_MS : COMMAND_WAIT_MS);
    int err = store_execute(s, "PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;"
                               "PRAGMA cell_size_check = ON; PRAGMA cache_size = -512;");
    return err == ERR_OK ? store_chain_init(s) : err;
}

/* The engine makes the log and its index with the event file's mode, and leaves them there. Those
 * of a time when the event file was read-only are made writable again with it: else the engine
 * would go on refusing to write, even after a restart. */
static void make_beside_writable(const struct store *s) {
    struct stat main_file;
    if (access(s->path, W_OK) != 0 || stat(s->path, &main_file) != 0)
        return;
    for (int i = 1; i < FILE_COUNT; i++) {
        char *name = NULL;
        struct stat beside;
        if (asprintf(&name, "%s%s", s->path, store_file_suffixes[i]) < 0)
            return;
        if (lstat(name, &beside) == 0 && S_ISREG(beside.st_mode) && access(name, W_OK) != 0)
            (void)chmod(name, main_file.st_mode & 0666);
        free(name);
    }
}

static int open_file(struct store *s) {
    enum store_mode mode = s->mode;
    int64_t version = 0;
    int flags =
        SQLITE_OPEN_NOMUTEX | (mode == STORE_READ ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE);
    int err = creates(mode) ? make_file(s) : ERR_OK;
    if (err != ERR_OK)
        return err;
    if (mode != STORE_READ)
        make_beside_writable(s);
    if (sqlite3_open_v2(s->path, &s->db, flags, NULL) != SQLITE_OK)
        return store_failed(s);
    err = store_set_up(s);
    if (err == ERR_OK)
        err = store_recognise(s, creates(mode), &version);
    if (err != ERR_OK)
        return err;
    /* A file that may not be written is opened for reading by the engine without an error. */
    s->read_only = sqlite3_db_readonly(s->db, "main") == 1;
    if (mode == STORE_READ && version != store_newest_version())
        return store_fail_with(s, ERR_INPUT,
                               "the event file was made by an earlier version of the program");
    if (mode == STORE_READ)
        return ERR_OK;
    err = store_execute(s, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;");
    return err == ERR_OK ? store_migrate(s, version) : err;
}

/* What would go wrong in the engine, or unnoticed. */
static int check_path(struct store *s) {
    struct stat info;
    bool there = stat(s->path, &info) == 0;
    bool missing = !there && errno == ENOENT;
    if (there && !S_ISREG(info.st_mode))
        return store_fail_with(s, ERR_INPUT, "this is no plain file");
    if (creates(s->mode))
        return ERR_OK;
    /* The engine would remove a log beside it, which may be all that is left. */
    if (there && info.st_size == 0)
        return store_fail_with(s, ERR_INPUT, "this is no event file: it is empty");
    return missing ? store_fail_with(s, ERR_UNKNOWN, "no such event file") : ERR_OK;
}

static int open_store(struct store *s) {
    int err = sodium_init() < 0 ? store_fail_with(s, ERR_IO, "no random numbers are to be had")
                                : check_path(s);
    if (err == ERR_OK && s->mode != STORE_READ && s->mode != STORE_COPY)
        err = lock(s);
    if (err == ERR_OK)
        err = s->mode == STORE_COPY ? store_open_copy(s) : open_file(s);
    if (err == ERR_OK && s->mode == STORE_SERVE)
        store_own_checkpoints(s);
    if (err == ERR_OK)
        (void)store_check_file(s); /* notes which file it is */
    return err;
}

int store_open(const char *path, enum store_mode mode, struct store **out, struct textbuf *why) {
    struct store *s = calloc(1, sizeof *s);
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->lock = -1;
    s->stamp.size = -1;
    s->mode = mode;
    s->path = strdup(path);
    int err = s->path == NULL ? ERR_NOMEM : open_store(s);
    if (err != ERR_OK && why != NULL)
        textbuf_puts(why, textbuf_text(&s->message));
    s->failed = false;
    if (err == ERR_OK)
        *out = s;
    else
        store_close(s);
    return err;
}

int store_open_to_read(const char *path, enum store_mode mode, struct store **out,
                       struct textbuf *why) {
    struct textbuf first = {0};
    int err = store_open(path, mode, out, &first);
    if (err == ERR_IO && store_open(path, STORE_COPY, out, NULL) == ERR_OK)
        err = ERR_OK;
    if (err != ERR_OK && why != NULL)
        textbuf_puts(why, textbuf_text(&first));
    if (err == ERR_OK && first.len > 0)
        (void)store_fail_with(*out, ERR_OK, textbuf_text(&first));
    textbuf_clear(&first);
    return err;
}

void store_close(struct store *s) {
    char *kept = NULL;
    if (s == NULL)
        return;
    if (s->mode == STORE_SERVE)
        (void)store_rescue(s, true, &kept);
    free(kept);
    for (int i = 0; i < STATEMENT_COUNT; i++)
        (void)sqlite3_finalize(s->statements[i]);
    (void)sqlite3_close(s->db);
    store_lock_release(s->lock); /* after the last byte */
    textbuf_clear(&s->message);
    damaged_facts_clear(&s->unreadable);
    damaged_facts_clear(&s->altered);
    free(s->path);
    free(s);
}

void store_write_state(struct store *s, const char *word) {
    if (s->lock >= 0)
        store_lock_write_state(s->path, word);
}

void store_retake_lock(struct store *s) {
    if (s->copy || s->mode == STORE_READ || store_lock_is_current(s->path, s->lock))
        return;
    store_lock_release(s->lock);
    (void)lock(s);
}

bool store_is_copy(const struct store *s) {
    return s->copy;
}

bool store_is_read_only(const struct store *s) {
    return s->read_only;
}
