/* SPDX-License-Identifier: MIT */
/* stream_message.h - bytes that many listeners of an event stream are sent, kept once for all of
 * them. Immutable and counted; any thread may hold one and let it go. */
#ifndef CAIRN_STREAM_MESSAGE_H
#define CAIRN_STREAM_MESSAGE_H

#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>

/* A text, framed as one chunk of HTTP/1.1: the size in hex, the text, an empty line's end. */
struct stream_message {
    atomic_int refs;
    int64_t revision;           /* that the text tells; 0: none */
    size_t plain_at, plain_len; /* the text alone, in `bytes` */
    size_t len;                 /* of the whole chunk */
    char bytes[];
};

/* A message of a text (copied; `len` > 0 bytes) that tells a revision (0: none), held for the
 * caller. NULL when memory is out. */
struct stream_message *stream_message_new(int64_t revision, const char *text, size_t len);

/* Gives back its argument. */
struct stream_message *stream_message_hold(struct stream_message *message);

/* NULL is accepted. */
void stream_message_release(struct stream_message *message);

#endif
