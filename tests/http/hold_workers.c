/* SPDX-License-Identifier: MIT */
/* To be preloaded: a thread named "public" that compresses an answer waits as long as the file
 * named by HOLD is there, and makes the file named by HELD when it begins to. */
#include <dlfcn.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <time.h>
#include <unistd.h>

typedef int init(void *stream, int level, int method, int bits, int memory, int strategy,
                 const char *version, int size);

int deflateInit2_(void *stream, int level, int method, int bits, int memory, int strategy,
                  const char *version, int size);
int deflateInit2_(void *stream, int level, int method, int bits, int memory, int strategy,
                  const char *version, int size) {
    char thread[16] = "";
    (void)prctl(PR_GET_NAME, thread);
    if (strcmp(thread, "public") == 0 && access(getenv("HOLD"), F_OK) == 0)
        (void)close(open(getenv("HELD"), O_WRONLY | O_CREAT | O_CLOEXEC, 0600));
    while (strcmp(thread, "public") == 0 && access(getenv("HOLD"), F_OK) == 0)
        (void)nanosleep(&(struct timespec){.tv_nsec = 5000000}, NULL);
    return ((init *)dlsym(RTLD_NEXT, "deflateInit2_"))(stream, level, method, bits, memory,
                                                       strategy, version, size);
}
