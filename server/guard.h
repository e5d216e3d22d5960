/* SPDX-License-Identifier: MIT */
/* guard.h - counts wrong keys by address and slows down who guesses. */
#ifndef CAIRN_GUARD_H
#define CAIRN_GUARD_H

#include <stdbool.h>
#include <sys/socket.h>

struct guard;

/* A guard that has seen nothing (NULL when memory is out), and its end; NULL is accepted. */
struct guard *guard_new(void);
void guard_free(struct guard *guard);

/* True where the address has not had too many wrong keys within a minute. Any thread. */
bool guard_allows(struct guard *guard, const struct sockaddr *address);

/* Notes a wrong key. Returns false where the address had too many within a minute. `address` may
 * be NULL. Any thread. */
bool guard_failed(struct guard *guard, const struct sockaddr *address);

/* Wrong keys since the start. */
long long guard_failures(const struct guard *guard);

#endif
