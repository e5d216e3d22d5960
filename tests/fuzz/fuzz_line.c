/* SPDX-License-Identifier: MIT */
/* Any bytes as what a server answers to the doctor and to a standby; and as an address. The first
 * byte says how much an answer may have and in how many pieces it comes. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "line.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void try_answer(const uint8_t *data, size_t size, size_t room, size_t piece) {
    static const struct address address = {.host = "fell.example", .port = "80"};
    struct line line = {0};
    struct textbuf answer = {0};
    size_t body = 0;
    int ends[2];
    if (socketpair(AF_UNIX, SOCK_STREAM, 0, ends) != 0)
        abort();
    for (size_t at = 0; at < size; at += piece)
        (void)send(ends[1], data + at, size - at < piece ? size - at : piece, MSG_NOSIGNAL);
    (void)shutdown(ends[1], SHUT_WR);
    line.fd = ends[0];
    int status = line_get(&line, &address, "/x", "key", room, &answer, &body);
    if (status < -1 || status > 999 || body > answer.len || answer.len > room ||
        (status > 0 && (body < 4 || strlen(answer.bytes) >= body)))
        abort();
    line_close(&line);
    (void)close(ends[1]);
    textbuf_clear(&answer);
}

static void try_address(const uint8_t *data, size_t size) {
    char *url = malloc(size + 1);
    struct address a;
    const char *path = NULL;
    if (url == NULL)
        return;
    memcpy(url, data, size);
    url[size] = '\0';
    if (address_parse(url, &a, &path) && (path < url || path > url + size || *a.host == '\0' ||
                                          *a.port == '\0' || strpbrk(a.host, " \r\n@") != NULL))
        abort();
    free(url);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    /* More than fits into a socket would wait for a reader. */
    if (size < 1 || size > 32768)
        return -1;
    try_answer(data + 1, size - 1, data[0] & 1 ? 64 : 1 << 20, data[0] & 2 ? 7 : 65536);
    try_address(data + 1, size - 1);
    return 0;
}
