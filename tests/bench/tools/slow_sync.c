/* SPDX-License-Identifier: MIT */
/* Stands before the C library's fsync and fdatasync and makes each last 5 ms longer, as on a slow
 * disk. Loaded with LD_PRELOAD. */
#include <dlfcn.h>
#include <time.h>

enum { EXTRA_NS = 5000000 };

int fsync(int fd);
int fdatasync(int fd);

static int slowly(const char *name, int fd) {
    const struct timespec extra = {0, EXTRA_NS};
    int (*real)(int);
    *(void **)&real = dlsym(RTLD_NEXT, name);
    (void)nanosleep(&extra, NULL);
    return real(fd);
}

int fsync(int fd) {
    return slowly("fsync", fd);
}

int fdatasync(int fd) {
    return slowly("fdatasync", fd);
}
