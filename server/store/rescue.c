/* SPDX-License-Identifier: MIT */
/* Keeps what is in the open file where its name stands for another one, or its bytes were
 * overwritten. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "base/err.h"
#include "store/store_private.h"
#include "system/data_dir.h"

/* True where the name stands for a file other than the one that is open. */
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

/* Renames the log and its index to `name` with ".old" at their ends, so that the engine does not
 * apply them to the file that has taken the place of ours. Those of that file stay.
 *   first  gets the first new name; may be NULL */
static int set_log_aside(const struct store *s, const char *name, char **first) {
    for (int i = 1; i < FILE_COUNT; i++) {
        char *from = NULL;
        char *to = NULL;
        if (asprintf(&from, "%s%s", s->path, store_file_suffixes[i]) < 0)
            return ERR_NOMEM;
        if (asprintf(&to, "%s%s.old", name, store_file_suffixes[i]) < 0) {
            free(from);
            return ERR_NOMEM;
        }
        bool renamed = !is_other(from, &s->files[i]) && rename(from, to) == 0;
        if (renamed && first != NULL && *first == NULL)
            *first = to;
        else
            free(to);
        free(from);
    }
    return ERR_OK;
}

/* The log belongs to bytes that were overwritten: neither this process when it closes the file nor
 * the next one may checkpoint it into those that are there now. */
static int save_log(struct store *s, char **kept) {
    char *name = data_dir_aside(s->path);
    (void)sqlite3_db_config(s->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
    int err = name == NULL ? ERR_NOMEM : set_log_aside(s, name, kept);
    s->saved = err == ERR_OK;
    free(name);
    return err;
}

int store_rescue(struct store *s, bool at_end, char **kept) {
    *kept = NULL;
    if (at_end && s->db != NULL)
        (void)store_check_file(s); /* finds out whether it was overwritten since the last check */
    if (s->overwritten)
        return s->saved ? ERR_OK : save_log(s, kept);
    if (s->copy || s->saved || s->db == NULL ||
        !(is_other(s->path, &s->files[0]) || (at_end && is_nameless(s))))
        return ERR_OK;
    char *name = data_dir_aside(s->path);
    int err = name == NULL ? ERR_NOMEM : store_backup(s, name, false);
    /* Where no other file has taken its place the log stays: our file may have been moved, and is
     * complete only with its log when it is moved back. */
    if (err == ERR_OK && is_other(s->path, &s->files[0]))
        err = set_log_aside(s, name, NULL);
    s->saved = err == ERR_OK;
    if (err == ERR_OK)
        *kept = name;
    else
        free(name);
    return err;
}
