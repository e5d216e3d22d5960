/* SPDX-License-Identifier: MIT */
/* To be preloaded: imitates a disk that does not answer. Each sync of a file whose path contains
 * HELD_SYNC_OF waits while the file HELD_SYNC_WHILE is there; each that waits adds a byte to the
 * file HELD_SYNC_COUNT. */
#include <dlfcn.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static void wait_for_disk(int fd) {
    const char *of = getenv("HELD_SYNC_OF");
    const char *gate = getenv("HELD_SYNC_WHILE");
    const char *count = getenv("HELD_SYNC_COUNT");
    char link[64];
    char path[4096] = "";
    (void)snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    if (of == NULL || gate == NULL || count == NULL || readlink(link, path, sizeof path - 1) < 0 ||
        strstr(path, of) == NULL || access(gate, F_OK) != 0)
        return;
    int out = open(count, O_WRONLY | O_CREAT | O_APPEND, 0600);
    if (out < 0 || write(out, "x", 1) != 1)
        abort();
    (void)close(out);
    while (access(gate, F_OK) == 0)
        (void)nanosleep(&(struct timespec){.tv_nsec = 5000000}, NULL);
}

int fsync(int fd) {
    wait_for_disk(fd);
    return ((int (*)(int))dlsym(RTLD_NEXT, "fsync"))(fd);
}

int fdatasync(int fd) {
    wait_for_disk(fd);
    return ((int (*)(int))dlsym(RTLD_NEXT, "fdatasync"))(fd);
}
