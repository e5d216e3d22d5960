/* SPDX-License-Identifier: MIT */
/* Stands before the C library's fsync and fdatasync and makes each last longer, as on a slow disk:
 * by SLOW_SYNC_MS milliseconds (5), of files whose path holds SLOW_SYNC_OF (of all). Loaded with
 * LD_PRELOAD. */
#include <dlfcn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

int fsync(int fd);
int fdatasync(int fd);

static int is_slow(int fd) {
    const char *of = getenv("SLOW_SYNC_OF");
    char link[64];
    char path[4096] = "";
    (void)snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    return of == NULL || (readlink(link, path, sizeof path - 1) > 0 && strstr(path, of) != NULL);
}

static int slowly(const char *name, int fd) {
    const char *given = getenv("SLOW_SYNC_MS");
    long ms = given == NULL ? 5 : strtol(given, NULL, 10);
    const struct timespec extra = {ms / 1000, ms % 1000 * 1000000};
    int (*real)(int);
    *(void **)&real = dlsym(RTLD_NEXT, name);
    if (is_slow(fd))
        (void)nanosleep(&extra, NULL);
    return real(fd);
}

int fsync(int fd) {
    return slowly("fsync", fd);
}

int fdatasync(int fd) {
    return slowly("fdatasync", fd);
}
