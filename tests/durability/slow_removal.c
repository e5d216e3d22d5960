/* SPDX-License-Identifier: MIT */
/* To be preloaded: taking a listening socket from an epoll set takes thirty milliseconds longer, so
 * that two threads which want to do it at once surely meet. */
#include <dlfcn.h>
#include <stddef.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <time.h>

typedef int control(int epoll, int what, int fd, struct epoll_event *event);

int epoll_ctl(int epoll, int what, int fd, struct epoll_event *event) {
    int listening = 0;
    socklen_t len = sizeof listening;
    if (what == EPOLL_CTL_DEL && getsockopt(fd, SOL_SOCKET, SO_ACCEPTCONN, &listening, &len) == 0 &&
        listening != 0)
        (void)nanosleep(&(struct timespec){.tv_nsec = 30000000}, NULL);
    return ((control *)dlsym(RTLD_NEXT, "epoll_ctl"))(epoll, what, fd, event);
}
