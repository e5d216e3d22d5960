/* SPDX-License-Identifier: MIT */
#include "system/notify.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

void notify_manager(const char *state) {
    const char *name = getenv("NOTIFY_SOCKET");
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    if (name == NULL || (name[0] != '/' && name[0] != '@') ||
        strlen(name) >= sizeof address.sun_path)
        return;
    size_t len = strlen(name);
    memcpy(address.sun_path, name, len);
    if (name[0] == '@')
        address.sun_path[0] = '\0';
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return;
    /* A manager that does not listen must not hold up the server. */
    (void)sendto(fd, state, strlen(state), MSG_NOSIGNAL | MSG_DONTWAIT,
                 (const struct sockaddr *)&address,
                 (socklen_t)(offsetof(struct sockaddr_un, sun_path) + len));
    (void)close(fd);
}
