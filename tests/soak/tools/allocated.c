/* SPDX-License-Identifier: MIT */
/* Tells what a process has allocated, loaded before its libraries: every quarter of a second, as
 * two 64-bit numbers in the file that ALLOCATED names: bytes in use, and bytes freed that the
 * allocator still holds. Resident memory alone cannot tell a leak from room that was once needed.
 */
#include <fcntl.h>
#include <malloc.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

static void *tell(void *told) {
    _Atomic int64_t *place = told;
    const struct timespec pause = {.tv_nsec = 250000000};
    for (;;) {
        struct mallinfo2 now = mallinfo2();
        atomic_store(&place[0], (int64_t)(now.uordblks + now.hblkhd));
        atomic_store(&place[1], (int64_t)now.fordblks);
        (void)nanosleep(&pause, NULL);
    }
    return NULL;
}

__attribute__((constructor)) static void begin(void) {
    const char *path = getenv("ALLOCATED");
    int fd = path != NULL ? open(path, O_RDWR | O_CLOEXEC) : -1;
    sigset_t all;
    sigset_t before;
    pthread_t thread;
    if (fd < 0)
        return;
    void *page = mmap(NULL, 2 * sizeof(int64_t), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    (void)close(fd);
    if (page == MAP_FAILED)
        return;
    /* The program's signals are for its own threads. */
    (void)sigfillset(&all);
    (void)pthread_sigmask(SIG_SETMASK, &all, &before);
    if (pthread_create(&thread, NULL, tell, page) == 0)
        (void)pthread_detach(thread);
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
}
