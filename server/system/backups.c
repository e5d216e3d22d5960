/* SPDX-License-Identifier: MIT */
#include "system/backups.h"

#include <dirent.h>
#include <fcntl.h>
#include <stdbool.h>
#include <string.h>
#include <sys/stat.h>

/* True where the copy's name is SLUG.cairn or SLUG.MOMENT.cairn. */
static bool is_copy_of(const char *name, const char *slug) {
    size_t len = strlen(slug);
    size_t all = strlen(name);
    return strncmp(name, slug, len) == 0 && name[len] == '.' && all >= 6 &&
           strcmp(name + all - 6, ".cairn") == 0;
}

int64_t backups_newest(const char *folder, const char *slug) {
    DIR *dir = opendir(folder);
    int64_t newest = BACKUPS_NONE;
    if (dir == NULL)
        return BACKUPS_UNREADABLE;
    for (const struct dirent *entry; (entry = readdir(dir)) != NULL;) {
        struct stat file;
        if (is_copy_of(entry->d_name, slug) &&
            fstatat(dirfd(dir), entry->d_name, &file, AT_SYMLINK_NOFOLLOW) == 0 &&
            S_ISREG(file.st_mode) && file.st_size > 0 && file.st_mtime > newest)
            newest = file.st_mtime;
    }
    (void)closedir(dir);
    return newest;
}
