/* SPDX-License-Identifier: MIT */
#include "system/files.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/array.h"
#include "base/err.h"

enum { READ_AT_ONCE = 65536 };

/* Bytes to allocate at first: for a file whose size is known its size, one byte more, which shows
 * that it has grown or is too long, and the NUL. */
static size_t initial_size(int fd, size_t most) {
    struct stat info;
    if (fstat(fd, &info) != 0 || !S_ISREG(info.st_mode))
        return READ_AT_ONCE;
    return ((size_t)info.st_size < most ? (size_t)info.st_size : most) + 2;
}

static int read_all(int fd, size_t most, char **text, size_t *len) {
    size_t cap = initial_size(fd, most);
    size_t used = 0;
    char *bytes = malloc(cap);
    int err = bytes == NULL ? ERR_NOMEM : ERR_OK;
    while (err == ERR_OK) {
        if (used + 1 >= cap) {
            char *moved = array_reserve(bytes, &cap, used + READ_AT_ONCE, 1);
            if (moved == NULL) {
                err = ERR_NOMEM;
                break;
            }
            bytes = moved;
        }
        ssize_t got = read(fd, bytes + used, cap - used - 1);
        if (got < 0 && errno == EINTR)
            continue;
        if (got == 0)
            break;
        if (got < 0)
            err = ERR_IO;
        else if ((used += (size_t)got) > most)
            err = ERR_RANGE;
    }
    if (err != ERR_OK) {
        int why = errno;
        if (bytes != NULL)
            explicit_bzero(bytes, used);
        free(bytes);
        errno = why;
        return err;
    }
    bytes[used] = '\0';
    *text = bytes;
    *len = used;
    return ERR_OK;
}

int descriptor_read(int fd, char **text, size_t *len) {
    *text = NULL;
    *len = 0;
    return read_all(fd, SIZE_MAX, text, len);
}

int file_read_at_most(const char *path, size_t most, char **text, size_t *len) {
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    *text = NULL;
    *len = 0;
    if (fd < 0)
        return errno == ENOENT || errno == ENOTDIR ? ERR_UNKNOWN : ERR_IO;
    int err = read_all(fd, most, text, len);
    int why = errno;
    (void)close(fd);
    errno = why;
    return err;
}

int file_read(const char *path, char **text, size_t *len) {
    return file_read_at_most(path, SIZE_MAX, text, len);
}

bool descriptor_write(int fd, const char *bytes, size_t len) {
    while (len > 0) {
        ssize_t put = write(fd, bytes, len);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0)
            return false;
        bytes += put;
        len -= (size_t)put;
    }
    return true;
}

bool file_is_same(const char *a, const char *b) {
    struct stat x;
    struct stat y;
    return stat(a, &x) == 0 && stat(b, &y) == 0 && x.st_dev == y.st_dev && x.st_ino == y.st_ino;
}

char *file_folder(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash == NULL   ? strdup(".")
           : slash == path ? strdup("/")
                           : strndup(path, (size_t)(slash - path));
}

/* A new name is on the disk only when its folder is. */
static void sync_folder_of(const char *path) {
    char *folder = file_folder(path);
    int fd = folder == NULL ? -1 : open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        (void)fsync(fd);
        (void)close(fd);
    }
    free(folder);
}

int file_put(const char *part, const char *path, bool replace) {
    int fd = open(part, O_RDWR | O_CLOEXEC);
    bool good = fd >= 0 && fsync(fd) == 0;
    if (fd >= 0)
        good = close(fd) == 0 && good;
    if (good && replace) {
        good = rename(part, path) == 0;
    } else if (good) {
        good = renameat2(AT_FDCWD, part, AT_FDCWD, path, RENAME_NOREPLACE) == 0;
        /* Some file systems of USB sticks do not have the flag. */
        if (!good && (errno == EINVAL || errno == ENOSYS))
            good = access(path, F_OK) == 0 ? (errno = EEXIST, false) : rename(part, path) == 0;
    }
    if (!good)
        return errno == EEXIST ? ERR_CONFLICT : ERR_IO;
    sync_folder_of(path);
    return ERR_OK;
}

int file_replace(const char *part, const char *path, mode_t mode, const char *bytes, size_t len) {
    (void)unlink(part); /* left by a process that was killed in the middle */
    int fd = open(part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    if (fd < 0)
        return ERR_IO;
    bool good = descriptor_write(fd, bytes, len) && fsync(fd) == 0;
    int why = errno;
    if (close(fd) != 0 && good) {
        good = false;
        why = errno;
    }
    if (good && rename(part, path) == 0) {
        sync_folder_of(path);
        return ERR_OK;
    }
    why = good ? errno : why;
    (void)unlink(part);
    errno = why;
    return ERR_IO;
}

int file_write(const char *folder, const char *name, const char *bytes, size_t len) {
    char *path = NULL;
    char *part = NULL;
    int err = ERR_NOMEM;
    if (asprintf(&path, "%s/%s", folder, name) < 0)
        path = NULL;
    if (asprintf(&part, "%s/.%s.new", folder, name) < 0)
        part = NULL;
    /* Not readable by every user of the machine: an event's files name hidden checks. */
    if (path != NULL && part != NULL)
        err = file_replace(part, path, 0640, bytes, len);
    if (err == ERR_IO)
        (void)fprintf(stderr, "cairn: %s: %s\n", path, strerror(errno));
    free(path);
    free(part);
    return err;
}
