/* SPDX-License-Identifier: MIT */
/* guess_limits.h - counts wrong keys and codes by address and by what is tried, and refuses further
 * tries after too many. Each count is about one address, one event and one car: wrong codes from
 * another address, or for another car, hold nobody up. Any thread. */
#ifndef CAIRN_GUESS_LIMITS_H
#define CAIRN_GUESS_LIMITS_H

#include <stdbool.h>
#include <stdint.h>

#include "system/client_address.h"

struct guess_limits;

/* What a count is about. A plain value. */
struct guessed {
    struct client_address peer; /* who tries: the client, not the proxy that it comes through */
    uint64_t event;             /* any number that no other event has; 0 for keys */
    int64_t car;                /* whose code is tried; 0 for keys */
};

/* New, without any count; NULL when memory is out. libsodium must have been set up. To free NULL is
 * accepted. */
struct guess_limits *guess_limits_new(void);
void guess_limits_free(struct guess_limits *limits);

/* True where there have not been too many wrong ones within a minute (hard_limits.h). */
bool guess_limits_allows(struct guess_limits *limits, const struct guessed *what);

/* Notes a wrong key or code. Returns false where there were too many within a minute. */
bool guess_limits_failed(struct guess_limits *limits, const struct guessed *what);

/* Notes that the right code was shown. For a day the limit is then so high that somebody who
 * guesses behind the same address (a hotel's, a proxy's) does not hold up the crew; hard_limits.h
 * works out that a code cannot be found at that rate either. */
void guess_limits_succeeded(struct guess_limits *limits, const struct guessed *what);

/* Wrong keys and codes since the start. */
long long guess_limits_failures(const struct guess_limits *limits);

#endif
