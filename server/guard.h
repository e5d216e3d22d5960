/* SPDX-License-Identifier: MIT */
/* guard.h - counts wrong keys and codes by address and slows down who guesses. */
#ifndef CAIRN_GUARD_H
#define CAIRN_GUARD_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/socket.h>

struct guard;

/* A guard that has seen nothing (NULL when memory is out), and its end; NULL is accepted. */
struct guard *guard_new(void);
void guard_free(struct guard *guard);

/* True where the address has not had too many wrong ones within a minute. Any thread.
 *   what  what is guessed at: 0 for keys, or the number of the car whose code it is. A guesser at
 * one car's code does not hold up other crews behind the same proxy. */
bool guard_allows(struct guard *guard, const struct sockaddr *address, int64_t what);

/* Notes a wrong key or code. Returns false where the address had too many within a minute.
 * `address` may be NULL. Any thread. */
bool guard_failed(struct guard *guard, const struct sockaddr *address, int64_t what);

/* Wrong keys and codes since the start. */
long long guard_failures(const struct guard *guard);

#endif
