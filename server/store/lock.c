/* SPDX-License-Identifier: MIT */
#include "store/store_lock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "system/data_dir.h"

/* Five seconds: a command that imports a large folder has ended by then. */
enum { TRIES = 100, TRY_EVERY_MS = 50 };

static char *lock_path(const char *path) {
    char *lock = NULL;
    return asprintf(&lock, "%s-lock", path) < 0 ? NULL : lock;
}

/* Each sort of holder locks a byte of its own, so that others can see who it is. The lock belongs
 * to the open file, not to the process: two stores of one program hold it independently, and
 * closing one descriptor does not release what another holds. */
static bool take(int fd, short type, enum store_holder from, int count) {
    struct flock lock = {
        .l_type = type, .l_whence = SEEK_SET, .l_start = (off_t)from, .l_len = (off_t)count};
    return fcntl(fd, F_OFD_SETLK, &lock) == 0;
}

static bool is_held(int fd, enum store_holder who) {
    struct flock lock = {
        .l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = (off_t)who, .l_len = 1};
    return fcntl(fd, F_OFD_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
}

static void wait_a_moment(void) {
    const struct timespec moment = {.tv_nsec = TRY_EVERY_MS * 1000000L};
    (void)nanosleep(&moment, NULL);
}

int store_lock_shared(const char *path, enum store_holder who, int *fd, struct textbuf *why) {
    char *lock = lock_path(path);
    *fd = -1;
    if (lock == NULL)
        return ERR_NOMEM;
    bool there = access(lock, F_OK) == 0;
    *fd = open(lock, O_RDONLY | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, 0640);
    if (*fd >= 0 && !there)
        data_dir_give(lock);
    free(lock);
    if (*fd < 0)
        return ERR_OK;
    for (int i = 0; i < TRIES; i++) {
        if (take(*fd, F_RDLCK, who, 1))
            return ERR_OK;
        if (errno != EAGAIN && errno != EACCES) {
            store_lock_release(*fd); /* a file system without locks */
            *fd = -1;
            return ERR_OK;
        }
        wait_a_moment();
    }
    store_lock_release(*fd);
    *fd = -1;
    if (why != NULL)
        textbuf_puts(why, "it is being restored or promoted; try again");
    return ERR_BUSY;
}

int store_lock_exclusive(const char *path, int *fd, struct textbuf *why) {
    static const char *const words[HOLDER_COUNT] = {
        [HOLDER_SERVER] = "a server holds it: stop it first (systemctl stop cairn)",
        [HOLDER_FOLLOWER] = "cairn follow fills it: end that first",
        [HOLDER_COMMAND] = "another command is at work on it: wait for it, or end it",
    };
    char *lock = lock_path(path);
    if (lock == NULL)
        return ERR_NOMEM;
    bool there = access(lock, F_OK) == 0;
    *fd = open(lock, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, 0640);
    if (*fd < 0) {
        textbuf_printf(why, "%s: %s", lock, strerror(errno));
        free(lock);
        return ERR_IO;
    }
    if (!there)
        data_dir_give(lock);
    free(lock);
    for (int i = 0; i < TRIES; i++) {
        if (take(*fd, F_WRLCK, HOLDER_SERVER, HOLDER_COUNT))
            return ERR_OK;
        if (is_held(*fd, HOLDER_SERVER) || is_held(*fd, HOLDER_FOLLOWER))
            break;
        wait_a_moment();
    }
    enum store_holder who = HOLDER_SERVER;
    while (who < HOLDER_COMMAND && !is_held(*fd, who))
        who++;
    textbuf_puts(why, words[who]);
    store_lock_release(*fd);
    *fd = -1;
    return ERR_CONFLICT;
}

bool store_lock_is_current(const char *path, int fd) {
    struct stat held;
    struct stat there;
    char *lock = lock_path(path);
    bool stands = lock != NULL && fd >= 0 && fstat(fd, &held) == 0 && stat(lock, &there) == 0 &&
                  held.st_dev == there.st_dev && held.st_ino == there.st_ino;
    free(lock);
    return stands;
}

bool store_lock_is_held(const char *path, enum store_holder who) {
    char *lock = lock_path(path);
    /* F_OFD_GETLK needs no descriptor for writing, even for a write lock. */
    int fd = lock == NULL ? -1 : open(lock, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    bool held = fd >= 0 && is_held(fd, who);
    store_lock_release(fd);
    free(lock);
    return held;
}

/* Locks belong to the open file: closing this descriptor releases none. */
void store_lock_write_state(const char *path, const char *word) {
    char *lock = lock_path(path);
    int fd = lock == NULL ? -1 : open(lock, O_RDWR | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    size_t len = strlen(word);
    char there[16] = "";
    ssize_t now = fd < 0 ? 0 : pread(fd, there, sizeof there, 0);
    bool same = now == (ssize_t)len && memcmp(there, word, len) == 0;
    /* A word that is cut short is no word of writability.h: the state is then unknown. */
    if (fd >= 0 && !same && ftruncate(fd, 0) == 0)
        (void)!pwrite(fd, word, len, 0);
    store_lock_release(fd);
    free(lock);
}

void store_lock_read_state(const char *path, char *word, size_t size) {
    char *lock = lock_path(path);
    int fd = lock == NULL ? -1 : open(lock, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    ssize_t len = fd < 0 ? 0 : read(fd, word, size - 1);
    word[len < 0 ? 0 : len] = '\0';
    store_lock_release(fd);
    free(lock);
}

void store_lock_release(int fd) {
    if (fd >= 0)
        (void)close(fd);
}
