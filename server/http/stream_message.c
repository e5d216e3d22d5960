/* SPDX-License-Identifier: MIT */
#include "http/stream_message.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct stream_message *stream_message_new(int64_t revision, const char *text, size_t len) {
    char head[24];
    int head_len = snprintf(head, sizeof head, "%zx\r\n", len);
    struct stream_message *m = malloc(sizeof *m + len + (size_t)head_len + 2);
    if (m == NULL)
        return NULL;
    atomic_init(&m->refs, 1);
    m->revision = revision;
    /* Bytes for a socket, not a string. */
    // NOLINTNEXTLINE(bugprone-not-null-terminated-result)
    memcpy(m->bytes, head, (size_t)head_len);
    memcpy(m->bytes + head_len, text, len);
    // NOLINTNEXTLINE(bugprone-not-null-terminated-result)
    memcpy(m->bytes + (size_t)head_len + len, "\r\n", 2);
    m->plain_at = (size_t)head_len;
    m->plain_len = len;
    m->len = (size_t)head_len + len + 2;
    return m;
}

struct stream_message *stream_message_hold(struct stream_message *m) {
    atomic_fetch_add(&m->refs, 1);
    return m;
}

void stream_message_release(struct stream_message *m) {
    if (m != NULL && atomic_fetch_sub(&m->refs, 1) == 1)
        free(m);
}
