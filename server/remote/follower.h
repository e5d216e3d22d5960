/* SPDX-License-Identifier: MIT */
/* follower.h - the event file of a server that stands by for another: a digest of what it has, and
 * adding what it lacks. Knows no network. One owner at a time. */
#ifndef CAIRN_FOLLOWER_H
#define CAIRN_FOLLOWER_H

#include "store/facts_digest.h"

struct follower;

/* A follower of DATA_DIR/SLUG.cairn, which need not be there yet. Both are borrowed until
 * follower_free. NULL when memory is out. */
struct follower *follower_new(const char *data_dir, const char *slug);

/* Closes; NULL is accepted. */
void follower_free(struct follower *follower);

/* What the file holds now, also where others wrote to it.
 *   why  gets what went wrong
 * Returns: ERR_OK; ERR_INPUT, ERR_IO, ERR_BUSY, ERR_NOMEM. */
int follower_digest(struct follower *follower, struct facts_digest *out, struct textbuf *why);

/* What was added. */
struct follower_news {
    bool anything;
    int readings, decisions, notices, cases;
    int keys;  /* new ones and revocations */
    int codes; /* what crews' codes are made from: a secret, renewals */
    int64_t revision;
};

/* Takes an answer of GET .../facts/{}, in one transaction: keys first, since a standby without
 * them is none.
 *   why  gets what went wrong
 * Returns: ERR_OK; ERR_INPUT where the answer is none, or has a fact whose id stands for another
 * here, and then nothing of facts was taken; ERR_IO; ERR_BUSY; ERR_NOMEM. */
int follower_take(struct follower *follower, const char *body, size_t len,
                  struct follower_news *news, struct textbuf *why);

#endif
