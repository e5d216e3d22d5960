/* SPDX-License-Identifier: MIT */
/* Opening an event file and bringing it to the newest schema; and whether the file that is open is
 * still the one that is there. */
#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "assets.h"
#include "data_dir.h"
#include "err.h"
#include "store_chain.h"
#include "store_lock.h"
#include "store_private.h"

static const char *const migrations[] = {"schema/001_facts.sql", "schema/002_notices.sql",
                                         "schema/003_codes.sql", "schema/004_acknowledgements.sql",
                                         "schema/005_chain.sql"};
enum { MIGRATION_COUNT = sizeof migrations / sizeof migrations[0] };

/* How long who else writes is waited for. Between the batches of a server that is busy on a slow
 * disk there is hardly a moment, and a command may have to try for long to meet one. */
enum { SERVER_WAIT_MS = 5000, COMMAND_WAIT_MS = 30000 };

static const char *const file_ends[FILE_COUNT] = {"", "-wal", "-shm"};

int64_t store_newest_version(void) {
    return MIGRATION_COUNT;
}

static bool creates(enum store_mode mode) {
    return mode == STORE_CREATE || mode == STORE_FOLLOW;
}

static int pragma_number(struct store *s, const char *sql, int64_t *out) {
    sqlite3_stmt *st = NULL;
    int err = ERR_OK;
    if (sqlite3_prepare_v2(s->db, sql, -1, &st, NULL) != SQLITE_OK ||
        sqlite3_step(st) != SQLITE_ROW)
        err = store_failed(s);
    else
        *out = sqlite3_column_int64(st, 0);
    (void)sqlite3_finalize(st);
    return err;
}

static int execute(struct store *s, const char *sql) {
    return sqlite3_exec(s->db, sql, NULL, NULL, NULL) == SQLITE_OK ? ERR_OK : store_failed(s);
}

static int say(struct store *s, int err, const char *text) {
    textbuf_reset(&s->message);
    textbuf_puts(&s->message, text);
    return err;
}

/* Before anything is written: a file that is not ours is left as it is. */
static int recognise(struct store *s, enum store_mode mode, int64_t *version) {
    int64_t application = 0;
    int64_t tables = 0;
    int err = pragma_number(s, "PRAGMA user_version", version);
    if (err == ERR_OK)
        err = pragma_number(s, "PRAGMA application_id", &application);
    if (err == ERR_OK)
        err = pragma_number(s, "SELECT count(*) FROM sqlite_schema", &tables);
    if (err != ERR_OK)
        return err;
    if (application != STORE_APPLICATION_ID && (tables > 0 || !creates(mode)))
        return say(s, ERR_INPUT, "this is no event file");
    if (*version > MIGRATION_COUNT)
        return say(s, ERR_INPUT, "the event file was made by a newer version of the program");
    return ERR_OK;
}

/* The chain is of a later migration than the secret, which gets its link there. */
static int make_first_secret(struct store *s) {
    static const char text[] = "INSERT INTO code_secret (made_ms, secret) VALUES (:made_ms,"
                               " :secret)";
    unsigned char secret[CODE_SECRET_LEN];
    sqlite3_stmt *st = NULL;
    int bad = sqlite3_prepare_v2(s->db, text, -1, &st, NULL);
    randombytes_buf(secret, sizeof secret);
    bind_int(st, ":made_ms", now_ms(), &bad);
    bind_blob(st, ":secret", secret, sizeof secret, &bad);
    int err = store_run(s, st, bad);
    (void)sqlite3_finalize(st);
    sodium_memzero(secret, sizeof secret);
    return err;
}

static const char *const steps[MIGRATION_COUNT] = {
    "PRAGMA application_id = 0x63616972; PRAGMA user_version = 1;",
    "PRAGMA user_version = 2;",
    "PRAGMA user_version = 3;",
    "PRAGMA user_version = 4;",
    "PRAGMA user_version = 5;",
};

int store_mark_version(struct store *s) {
    return execute(s, steps[MIGRATION_COUNT - 1]);
}

/* Each migration and its number are one transaction: a file is never between two versions. */
static int migrate(struct store *s, int64_t version) {
    int err = ERR_OK;
    for (int64_t v = version; err == ERR_OK && v < MIGRATION_COUNT; v++) {
        err = execute(s, "BEGIN IMMEDIATE");
        if (err == ERR_OK)
            err = execute(s, asset_find(migrations[v])->bytes);
        if (err == ERR_OK && strcmp(migrations[v], "schema/003_codes.sql") == 0)
            err = make_first_secret(s);
        if (err == ERR_OK && strcmp(migrations[v], "schema/005_chain.sql") == 0)
            err = store_chain_all(s);
        if (err == ERR_OK)
            err = execute(s, steps[v]);
        if (err == ERR_OK)
            err = execute(s, "COMMIT");
        if (err != ERR_OK)
            (void)sqlite3_exec(s->db, "ROLLBACK", NULL, NULL, NULL);
    }
    return err;
}

/* Before the engine makes it: with a mode of its own, and its folder's owner as its owner. */
static int make_file(struct store *s, const char *path) {
    int fd = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
    if (fd >= 0) {
        (void)close(fd);
        data_dir_give(path);
    } else if (errno != EEXIST) {
        textbuf_reset(&s->message);
        textbuf_printf(&s->message, "unable to open database file: %s", strerror(errno));
        return ERR_IO;
    }
    return ERR_OK;
}

static int lock(struct store *s, enum store_mode mode) {
    enum store_holder who = mode == STORE_SERVE    ? HOLDER_SERVER
                            : mode == STORE_FOLLOW ? HOLDER_FOLLOWER
                                                   : HOLDER_COMMAND;
    textbuf_reset(&s->message);
    return mode == STORE_ALONE ? store_lock_whole(s->path, &s->lock, &s->message)
                               : store_lock_share(s->path, who, &s->lock, &s->message);
}

static int settings(struct store *s) {
    (void)sqlite3_extended_result_codes(s->db, 0);
    bool serves = s->mode == STORE_SERVE || s->mode == STORE_READ;
    (void)sqlite3_busy_timeout(s->db, serves ? SERVER_WAIT_MS : COMMAND_WAIT_MS);
    int err = execute(s, "PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;"
                         "PRAGMA cell_size_check = ON; PRAGMA cache_size = -512;");
    return err == ERR_OK ? store_chain_init(s) : err;
}

/* The engine makes the files beside an event file with that one's mode, and leaves them where the
 * event file could only be read. When it may be written again so may they, or the engine would go
 * on refusing, after a new start too. */
static void free_beside(const struct store *s) {
    struct stat main_file;
    if (access(s->path, W_OK) != 0 || stat(s->path, &main_file) != 0)
        return;
    for (int i = 1; i < FILE_COUNT; i++) {
        char *name = NULL;
        struct stat beside;
        if (asprintf(&name, "%s%s", s->path, file_ends[i]) < 0)
            return;
        if (lstat(name, &beside) == 0 && S_ISREG(beside.st_mode) && access(name, W_OK) != 0)
            (void)chmod(name, main_file.st_mode & 0666);
        free(name);
    }
}

static int open_file(struct store *s, enum store_mode mode) {
    int64_t version = 0;
    int flags =
        SQLITE_OPEN_NOMUTEX | (mode == STORE_READ ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE);
    int err = creates(mode) ? make_file(s, s->path) : ERR_OK;
    if (err != ERR_OK)
        return err;
    if (mode != STORE_READ)
        free_beside(s);
    if (sqlite3_open_v2(s->path, &s->db, flags, NULL) != SQLITE_OK)
        return store_failed(s);
    err = settings(s);
    if (err == ERR_OK)
        err = recognise(s, mode, &version);
    if (err != ERR_OK)
        return err;
    /* Where the file may not be written the engine opens it for reading, without a word. */
    s->read_only = sqlite3_db_readonly(s->db, "main") == 1;
    if (mode == STORE_READ && version != MIGRATION_COUNT)
        return say(s, ERR_INPUT, "the event file was made by an earlier version of the program");
    if (mode == STORE_READ)
        return ERR_OK;
    err = execute(s, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;");
    return err == ERR_OK ? migrate(s, version) : err;
}

/* "file:" and the path, for options that only an address can give. */
static char *address_of(const char *path) {
    struct textbuf b = {0};
    textbuf_puts(&b, "file:");
    for (const char *c = path; *c != '\0'; c++) {
        if (strchr("?#%", *c) != NULL)
            textbuf_printf(&b, "%%%02X", (unsigned)(unsigned char)*c);
        else
            textbuf_putc(&b, *c);
    }
    textbuf_puts(&b, "?immutable=1");
    char *out = b.failed ? NULL : strdup(textbuf_text(&b));
    textbuf_clear(&b);
    return out;
}

/* Copies an open file, page by page, into memory. */
static int copy_from(struct store *s, sqlite3 *from) {
    sqlite3_backup *backup = sqlite3_backup_init(s->db, "main", from, "main");
    int rc = backup == NULL ? SQLITE_ERROR : sqlite3_backup_step(backup, -1);
    (void)sqlite3_backup_finish(backup);
    if (rc == SQLITE_DONE)
        return ERR_OK;
    (void)say(s, ERR_IO, rc == SQLITE_ERROR ? sqlite3_errmsg(s->db) : sqlite3_errstr(rc));
    return rc == SQLITE_NOMEM                            ? ERR_NOMEM
           : rc == SQLITE_CORRUPT || rc == SQLITE_NOTADB ? ERR_INPUT
                                                         : ERR_IO;
}

/* Where no file can be made beside it (a disk that is full, or mounted for reading only) the engine
 * cannot share the file's log. So it is read through once, the log with it, without any lock and
 * without leaving a trace. */
static int read_through(struct store *s) {
    sqlite3 *from = NULL;
    int err = sqlite3_open_v2(s->path, &from, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX,
                              "unix-none") == SQLITE_OK
                  ? ERR_OK
                  : say(s, ERR_IO, sqlite3_errmsg(from));
    if (err == ERR_OK) {
        (void)sqlite3_db_config(from, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
        (void)sqlite3_exec(from, "PRAGMA locking_mode = EXCLUSIVE", NULL, NULL, NULL);
        err = copy_from(s, from);
    }
    (void)sqlite3_close(from);
    return err;
}

/* A file without a log is all there is, and asks for nothing beside it. */
static int read_unchanging(struct store *s) {
    sqlite3 *from = NULL;
    char *address = address_of(s->path);
    if (address == NULL)
        return ERR_NOMEM;
    int err = sqlite3_open_v2(address, &from,
                              SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_URI,
                              NULL) == SQLITE_OK
                  ? copy_from(s, from)
                  : say(s, ERR_IO, sqlite3_errmsg(from));
    (void)sqlite3_close(from);
    free(address);
    return err;
}

static int open_copy(struct store *s) {
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
        err = settings(s);
    if (err == ERR_OK)
        err = recognise(s, STORE_READ, &version);
    if (err == ERR_OK)
        err = migrate(s, version); /* of the copy */
    return err == ERR_OK ? execute(s, "PRAGMA query_only = ON") : err;
}

int store_open(const char *path, enum store_mode mode, struct store **out, struct textbuf *why) {
    struct store *s = calloc(1, sizeof *s);
    int err = ERR_NOMEM;
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->lock = -1;
    s->mark.size = -1;
    s->mode = mode;
    s->path = strdup(path);
    if (s->path == NULL)
        goto done;
    struct stat info;
    if (sodium_init() < 0)
        err = say(s, ERR_IO, "no random numbers are to be had");
    else if (stat(path, &info) == 0 && !S_ISREG(info.st_mode))
        err = say(s, ERR_INPUT, "this is no plain file");
    else if (!creates(mode) && stat(path, &info) == 0 && info.st_size == 0)
        /* The engine would remove a log beside it, which may be all that is left. */
        err = say(s, ERR_INPUT, "this is no event file: it is empty");
    else if (!creates(mode) && access(path, F_OK) != 0 && errno == ENOENT)
        err = say(s, ERR_UNKNOWN, "no such event file");
    else
        err = mode == STORE_READ || mode == STORE_COPY ? ERR_OK : lock(s, mode);
    if (err == ERR_OK)
        err = mode == STORE_COPY ? open_copy(s) : open_file(s, mode);
    if (err == ERR_OK && mode == STORE_SERVE)
        store_keep_log(s);
    if (err == ERR_OK)
        (void)store_still_there(s); /* from now on it is this one */
done:
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
        (void)say(*out, ERR_OK, textbuf_text(&first));
    textbuf_clear(&first);
    return err;
}

void store_close(struct store *s) {
    char *kept = NULL;
    if (s == NULL)
        return;
    if (s->mode == STORE_SERVE)
        (void)store_save_open(s, true, &kept);
    free(kept);
    for (int i = 0; i < STATEMENT_COUNT; i++)
        (void)sqlite3_finalize(s->statements[i]);
    (void)sqlite3_close(s->db);
    store_lock_release(s->lock); /* after the last byte */
    textbuf_clear(&s->message);
    damage_clear(&s->unread);
    damage_clear(&s->broken);
    free(s->path);
    free(s);
}

void store_note(struct store *s, const char *word) {
    if (s->lock >= 0)
        store_lock_note(s->path, word);
}

void store_take_lock(struct store *s) {
    if (s->copy || s->mode == STORE_READ || store_lock_stands(s->path, s->lock))
        return;
    store_lock_release(s->lock);
    (void)lock(s, s->mode);
}

bool store_is_copy(const struct store *s) {
    return s->copy;
}

bool store_is_read_only(const struct store *s) {
    return s->read_only;
}

enum file_state { FILE_STANDS, FILE_GONE, FILE_REPLACED };

/* The file and what the engine keeps beside it. By name: to open one of them and close it again
 * would give back the locks that the engine has on it, which are the process's. */
static enum file_state file_state(struct store *s) {
    for (int i = 0; i < FILE_COUNT; i++) {
        char name[4096];
        struct stat now;
        if ((size_t)snprintf(name, sizeof name, "%s%s", s->path, file_ends[i]) >= sizeof name)
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

/* True where the name stands for a file, and it is not the one that is open. */
static bool is_other(const char *name, const struct file_id *open_one) {
    struct stat now;
    return stat(name, &now) == 0 && open_one->inode != 0 &&
           (now.st_dev != open_one->device || now.st_ino != open_one->inode);
}

/* True where the file that is open has no name any more. */
static bool is_nameless(const struct store *s) {
    struct stat now;
    return stat(s->path, &now) != 0 && errno == ENOENT;
}

/* The log belongs to bytes that are no more: neither this program as it ends nor the next may put
 * it over those that stand there. */
static int save_log(struct store *s, char **kept) {
    char *name = data_dir_aside(s->path);
    (void)sqlite3_db_config(s->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
    for (int i = 1; name != NULL && i < FILE_COUNT; i++) {
        char *from = NULL;
        char *to = NULL;
        if (asprintf(&from, "%s%s", s->path, file_ends[i]) < 0 ||
            asprintf(&to, "%s%s.old", name, file_ends[i]) < 0) {
            free(from);
            free(name);
            return ERR_NOMEM;
        }
        if (!is_other(from, &s->files[i]) && rename(from, to) == 0 && *kept == NULL)
            *kept = to;
        else
            free(to);
        free(from);
    }
    s->saved = name != NULL;
    free(name);
    return s->saved ? ERR_OK : ERR_NOMEM;
}

int store_save_open(struct store *s, bool at_end, char **kept) {
    *kept = NULL;
    if (at_end && s->db != NULL)
        (void)store_still_there(s); /* nothing may have asked since it was written over */
    if (s->overwritten)
        return s->saved ? ERR_OK : save_log(s, kept);
    if (s->copy || s->saved || s->db == NULL ||
        !(is_other(s->path, &s->files[0]) || (at_end && is_nameless(s))))
        return ERR_OK;
    char *name = data_dir_aside(s->path);
    int err = name == NULL ? ERR_NOMEM : store_backup(s, name, false);
    /* Where no other file stands there the log stays: the file may have been moved, and is whole
     * with its log alone when it comes back. */
    bool spoils = is_other(s->path, &s->files[0]);
    for (int i = 1; spoils && err == ERR_OK && i < FILE_COUNT; i++) {
        char *from = NULL;
        char *to = NULL;
        if (asprintf(&from, "%s%s", s->path, file_ends[i]) < 0 ||
            asprintf(&to, "%s%s.old", name, file_ends[i]) < 0)
            err = ERR_NOMEM;
        else if (!is_other(from, &s->files[i]))
            (void)rename(from, to);
        free(from);
        free(to);
    }
    s->saved = err == ERR_OK;
    if (err == ERR_OK)
        *kept = name;
    else
        free(name);
    return err;
}

int store_still_there(struct store *s) {
    static const char *const words[] = {
        [FILE_GONE] = "the event file, or a file beside it, was removed while it was open",
        [FILE_REPLACED] = "the event file, or a file beside it, was replaced while it was open"};
    enum file_state state = s->copy ? FILE_STANDS : file_state(s);
    if (state != FILE_STANDS)
        return say(s, ERR_IO, words[state]);
    int err = s->mode == STORE_SERVE && !s->copy ? store_look_inside(s) : ERR_OK;
    if (err == ERR_INPUT)
        return say(s, ERR_IO, "the event file was written over while it was open");
    return err == ERR_OK ? ERR_OK : say(s, ERR_BUSY, "the event file changed, and cannot be read");
}
