/* SPDX-License-Identifier: MIT */
#include "store/folder_check.h"

#include <dirent.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/err.h"
#include "store/examine.h"
#include "store/store_lock.h"
#include "store/writability.h"
#include "system/backups.h"
#include "system/data_dir.h"
#include "system/disk_space.h"
#include "system/machine_check.h"
#include "system/system_clock.h"

static void check_disk(struct findings *f, const char *path) {
    int64_t free_mb = 0;
    int64_t all_mb = 0;
    int64_t free_files = 0;
    if (disk_space(path, &free_mb, &all_mb, &free_files) != 0)
        findings_add(f, FINDING_BAD, "disk: %s: %s", path, strerror(errno));
    else
        machine_check_disk(f, path, free_mb, all_mb, free_files);
}

/* True for SLUG.cairn and what the storage engine keeps beside it. */
static bool is_event_file(const char *name) {
    static const char *const ends[] = {".cairn", ".cairn-wal", ".cairn-shm", ".cairn-lock"};
    size_t len = strlen(name);
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        size_t end = strlen(ends[i]);
        if (len > end && strcmp(name + len - end, ends[i]) == 0)
            return true;
    }
    return false;
}

/* A file that the folder's owner cannot write stops the service, usually because root made it. */
static int check_file(struct findings *f, const char *data_dir, const char *name,
                      const struct stat *folder) {
    char *path = NULL;
    struct stat file;
    int wrong = 0;
    if (asprintf(&path, "%s/%s", data_dir, name) < 0)
        return 0;
    /* One that is gone by now (-wal) is no problem. */
    if (lstat(path, &file) != 0) {
        free(path);
        return 0;
    }
    if (!S_ISREG(file.st_mode)) {
        findings_add(f, FINDING_BAD, "permissions: %s is no plain file", path);
        wrong++;
    } else if (file.st_uid != folder->st_uid) {
        findings_add(f, FINDING_BAD,
                     "permissions: %s belongs to another user than its folder (chown it)", path);
        wrong++;
    } else if ((file.st_mode & S_IWUSR) == 0) {
        findings_add(f, FINDING_BAD, "permissions: %s may not be written by its owner (chmod u+w)",
                     path);
        wrong++;
    } else if ((file.st_mode & S_IWOTH) != 0) {
        findings_add(f, FINDING_BAD, "permissions: %s may be written by anybody (chmod o-w)", path);
        wrong++;
    }
    free(path);
    return wrong;
}

static void check_permissions(struct findings *f, const char *data_dir, const struct stat *folder) {
    int wrong = 0;
    DIR *dir = opendir(data_dir);
    struct dirent *entry;
    if (dir == NULL) {
        findings_add(f, FINDING_BAD, "permissions: %s: %s", data_dir, strerror(errno));
        return;
    }
    while ((entry = readdir(dir)) != NULL) {
        if (is_event_file(entry->d_name))
            wrong += check_file(f, data_dir, entry->d_name, folder);
    }
    (void)closedir(dir);
    if ((folder->st_mode & S_IWOTH) != 0) {
        findings_add(f, FINDING_BAD, "permissions: %s may be written by anybody (chmod o-w)",
                     data_dir);
    } else if ((folder->st_mode & (S_IROTH | S_IXOTH)) != 0) {
        findings_add(f, FINDING_DOUBTFUL,
                     "permissions: %s may be read by every user of this machine, hidden checks too "
                     "(chmod o-rwx)",
                     data_dir);
    } else if (wrong == 0) {
        findings_add(f, FINDING_GOOD, "permissions: %s and its files are their owner's", data_dir);
    }
}

static void check_copies(struct findings *f, const char *backups, const char *slug) {
    int64_t newest = backups_newest(backups, slug);
    if (newest == BACKUPS_UNREADABLE) {
        findings_add(f, FINDING_BAD, "copies: %s: %s", backups, strerror(errno));
        return;
    }
    if (newest == BACKUPS_NONE) {
        findings_add(f, FINDING_BAD, "copies: none of %s in %s", slug, backups);
        return;
    }
    int64_t minutes = (now_ms() / 1000 - newest) / 60;
    findings_add(f,
                 minutes >= BACKUP_BAD_MINUTES        ? FINDING_BAD
                 : minutes >= BACKUP_DOUBTFUL_MINUTES ? FINDING_DOUBTFUL
                                                      : FINDING_GOOD,
                 "copies: the newest of %s is %" PRId64 " minutes old", slug, minutes);
}

/* Damaged facts by name: served as they are, they may be wrong. */
static void add_damage(struct findings *f, const char *slug, const struct damaged_facts *damage) {
    enum { NAMED = 20 };
    findings_add(f, FINDING_BAD,
                 "event %s: %" PRId64
                 " damaged facts or parts of the file (see the runbook, “Facts "
                 "are damaged”)",
                 slug, damage->count);
    for (size_t i = 0; i < damage->listed && i < NAMED; i++) {
        struct textbuf b = {0};
        damaged_fact_write(&b, &damage->list[i]);
        findings_add(f, FINDING_BAD, "event %s: %s", slug, textbuf_text(&b));
        textbuf_clear(&b);
    }
}

/* Whether the server that has it open can write, as it left in the lock file. */
static void check_server(struct findings *f, const char *path, const char *slug) {
    char word[16];
    enum writability state = WRITABLE;
    if (!store_lock_is_held(path, HOLDER_SERVER)) {
        findings_add(f, FINDING_GOOD, "server of %s: none has it open now", slug);
        return;
    }
    store_lock_read_state(path, word, sizeof word);
    if (!writability_parse(word, &state))
        findings_add(f, FINDING_DOUBTFUL,
                     "server of %s: it runs, and cannot leave word whether it can write (whose is "
                     "%s-lock?); ask it with --url",
                     slug, path);
    else if (state == WRITABLE)
        findings_add(f, FINDING_GOOD, "server of %s: it can write", slug);
    else if (state == UNWRITABLE_STANDBY)
        findings_add(
            f, FINDING_GOOD,
            "server of %s: it stands by for another server: promote it first to write here", slug);
    else
        findings_add(f, FINDING_BAD, "server of %s: it cannot write: %s", slug,
                     writability_message(state));
}

static void check_event(struct findings *f, const char *data_dir, const char *slug) {
    struct store_condition found = {0};
    struct textbuf why = {0};
    char *path = data_dir_path(data_dir, slug);
    int err = path == NULL ? ERR_NOMEM : store_examine(path, &found, &why);
    if (err != ERR_OK)
        findings_add(f, FINDING_BAD, "event %s: %s", slug,
                     why.len > 0 ? textbuf_text(&why) : err_text(err));
    else if (found.version > found.newest)
        findings_add(f, FINDING_BAD,
                     "event %s: schema %" PRId64
                     " is newer than this program, which knows %" PRId64,
                     slug, found.version, found.newest);
    else if (found.version < found.newest)
        findings_add(f, FINDING_DOUBTFUL,
                     "event %s: schema %" PRId64 " is brought to %" PRId64
                     " when it is next opened; make a copy first",
                     slug, found.version, found.newest);
    else if (found.damage.count > 0)
        add_damage(f, slug, &found.damage);
    else
        findings_add(f, FINDING_GOOD,
                     "event %s: schema %" PRId64 ", whole, %" PRId64 " readings, %" PRId64
                     " decisions%s",
                     slug, found.version, found.readings, found.decisions,
                     found.epoch.standby ? "; stands by for another server" : "");
    if (path != NULL)
        check_server(f, path, slug);
    store_condition_clear(&found);
    textbuf_clear(&why);
    free(path);
}

void folder_check(struct findings *f, const char *data_dir, const char *backups) {
    struct stat folder;
    char **slugs = NULL;
    size_t count = 0;
    if (stat(data_dir, &folder) != 0 || !S_ISDIR(folder.st_mode)) {
        findings_add(f, FINDING_BAD, "data folder: %s is not there, or is no folder", data_dir);
        return;
    }
    check_disk(f, data_dir);
    check_permissions(f, data_dir, &folder);
    if (data_dir_list(data_dir, &slugs, &count) != ERR_OK) {
        findings_add(f, FINDING_BAD, "data folder: %s cannot be read", data_dir);
        return;
    }
    if (count == 0)
        findings_add(f, FINDING_DOUBTFUL, "data folder: %s holds no event", data_dir);
    if (backups != NULL)
        check_disk(f, backups);
    for (size_t i = 0; i < count; i++) {
        check_event(f, data_dir, slugs[i]);
        if (backups != NULL)
            check_copies(f, backups, slugs[i]);
        free(slugs[i]);
    }
    free(slugs);
}
