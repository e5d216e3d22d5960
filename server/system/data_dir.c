/* SPDX-License-Identifier: MIT */
#include "system/data_dir.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/err.h"
#include "system/files.h"

static const char suffix[] = ".cairn";

bool slug_is_good(const char *slug) {
    size_t len = strlen(slug);
    return len >= 1 && len <= 64 && strspn(slug, "abcdefghijklmnopqrstuvwxyz0123456789-") == len;
}

char *data_dir_path(const char *data_dir, const char *slug) {
    char *path = NULL;
    if (!slug_is_good(slug) || asprintf(&path, "%s/%s%s", data_dir, slug, suffix) < 0)
        return NULL;
    return path;
}

void data_dir_give(const char *path) {
    struct stat folder;
    struct stat file;
    char *folder_path = file_folder(path);
    if (geteuid() == 0 && folder_path != NULL && stat(folder_path, &folder) == 0 &&
        lstat(path, &file) == 0 && S_ISREG(file.st_mode) &&
        (file.st_uid != folder.st_uid || file.st_gid != folder.st_gid) &&
        lchown(path, folder.st_uid, folder.st_gid) != 0)
        errno = 0; /* then it stays root's, and cairn doctor reports it */
    free(folder_path);
}

char *data_dir_aside(const char *path) {
    static const char *const ends[] = {"", "-shm", "-wal"};
    struct tm parts;
    char moment[32];
    char *name = NULL;
    time_t now = time(NULL);
    if (gmtime_r(&now, &parts) == NULL)
        return NULL;
    (void)strftime(moment, sizeof moment, "%Y%m%dT%H%M%SZ", &parts);
    for (int n = 1; n < 100; n++) {
        char more[8] = "";
        if (n > 1)
            (void)snprintf(more, sizeof more, "-%d", n);
        if (asprintf(&name, "%s.aside-%s%s", path, moment, more) < 0)
            return NULL;
        bool taken = false;
        for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
            char *whole = NULL;
            taken =
                taken || asprintf(&whole, "%s%s", name, ends[i]) < 0 || access(whole, F_OK) == 0;
            free(whole);
        }
        if (!taken)
            return name;
        free(name);
    }
    return NULL;
}

static int by_text(const void *a, const void *b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

int data_dir_list(const char *data_dir, char ***slugs, size_t *count) {
    DIR *dir = opendir(data_dir);
    char **list = NULL;
    size_t used = 0;
    int err = dir == NULL ? ERR_IO : ERR_OK;
    struct dirent *entry;
    while (err == ERR_OK && (entry = readdir(dir)) != NULL) {
        size_t len = strlen(entry->d_name);
        if (len <= sizeof suffix - 1 ||
            strcmp(entry->d_name + len - (sizeof suffix - 1), suffix) != 0)
            continue;
        char *slug = strndup(entry->d_name, len - (sizeof suffix - 1));
        char **moved = slug == NULL ? NULL : realloc(list, (used + 1) * sizeof *list);
        if (moved != NULL)
            list = moved;
        if (moved == NULL)
            err = ERR_NOMEM;
        if (moved == NULL || !slug_is_good(slug))
            free(slug);
        else
            list[used++] = slug;
    }
    if (dir != NULL)
        (void)closedir(dir);
    if (err != ERR_OK) {
        for (size_t i = 0; i < used; i++)
            free(list[i]);
        free(list);
        return err;
    }
    if (used > 0)
        qsort(list, used, sizeof *list, by_text);
    *slugs = list;
    *count = used;
    return ERR_OK;
}
