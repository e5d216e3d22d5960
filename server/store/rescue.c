/* SPDX-License-Identifier: MIT */
/* What is open but has lost its name, or its bytes: kept as a file of its own. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "base/err.h"
#include "store/store_private.h"
#include "system/data_dir.h"

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
        if (asprintf(&from, "%s%s", s->path, store_file_ends[i]) < 0 ||
            asprintf(&to, "%s%s.old", name, store_file_ends[i]) < 0) {
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

int store_rescue(struct store *s, bool at_end, char **kept) {
    *kept = NULL;
    if (at_end && s->db != NULL)
        (void)store_check_file(s); /* nothing may have asked since it was written over */
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
        if (asprintf(&from, "%s%s", s->path, store_file_ends[i]) < 0 ||
            asprintf(&to, "%s%s.old", name, store_file_ends[i]) < 0)
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
