/* SPDX-License-Identifier: MIT */
/* follower_private.h - what the files of the follower share. Nobody else includes it. */
#ifndef CAIRN_FOLLOWER_PRIVATE_H
#define CAIRN_FOLLOWER_PRIVATE_H

#include "event/event.h"
#include "remote/follower.h"

struct json_t;

struct follower {
    const char *slug;
    char *path;
    struct store *store; /* NULL while the file is not there */
    struct model *model; /* as stored at `seen` */
    struct facts_digest digest;
    int64_t seen; /* the engine's number of others' changes */
    bool known;   /* model and digest are as stored */
};

/* A member of the answer that is a text; NULL where it is none. */
struct file_text follower_text(const struct json_t *object, const char *name);

/* A member that is a whole number; 0 where it is none. */
int64_t follower_number(const struct json_t *object, const char *name);

/* A member that is a text of `size` bytes in hexadecimal. Returns false where it is none. */
bool follower_bytes(const struct json_t *object, const char *name, unsigned char *out, size_t size);

/* Takes the epoch, the keys and what codes are made from, in a transaction of its own, since they
 * belong to no revision. Returns as follower_take. */
int follower_take_keys(struct follower *f, const struct json_t *answer, struct follower_news *news,
                       struct textbuf *why);

#endif
