/* SPDX-License-Identifier: MIT */
/* system_clock.h - the machine's clocks, and an instant as text. Any thread. */
#ifndef CAIRN_SYSTEM_CLOCK_H
#define CAIRN_SYSTEM_CLOCK_H

#include <pthread.h>
#include <stdint.h>
#include <time.h>

struct textbuf;

/* Now, in milliseconds since 1970-01-01T00:00:00Z. It jumps where somebody sets the clock. */
int64_t now_ms(void);

/* Now on the monotonic clock, in microseconds from an arbitrary beginning: for durations. */
int64_t monotonic_microseconds(void);

/* The moment on the monotonic clock that is so many microseconds from now, for a timed wait on a
 * condition of monotonic_condition_init. */
struct timespec monotonic_deadline(int64_t microseconds);

/* Initialises a condition variable whose timed waits go by the monotonic clock, so that nobody who
 * sets the machine's clock makes them longer or shorter. */
void monotonic_condition_init(pthread_cond_t *condition);

enum { INSTANT_ROOM = 32 };

/* Writes an instant as "2027-05-20T10:11:12Z": RFC 3339, UTC, whole seconds; nothing where the
 * year is beyond what the system can write.
 *   ms  since 1970-01-01T00:00:00Z */
void instant_text(char out[INSTANT_ROOM], int64_t ms);

/* Appends the same to a buffer. */
void write_instant(struct textbuf *b, int64_t ms);

/* A member of a JSON object whose text is that instant. */
void json_member_instant(struct textbuf *b, const char *key, int64_t ms);

#endif
