/* SPDX-License-Identifier: MIT */
/* doubt_id.h - names a doubtful thing after its evidence: other evidence has another name, so that
 * what somebody once saw is shown again when it changes. */
#ifndef CAIRN_DOUBT_ID_H
#define CAIRN_DOUBT_ID_H

#include <stdbool.h>
#include <stddef.h>

enum { DOUBT_ID_LEN = 16 };

/* Makes the name: 16 hex digits over the texts in their order. libsodium must have been set up.
 *   parts  `count` texts, none of them NULL; borrowed for the call */
void doubt_id_make(char id[DOUBT_ID_LEN + 1], const char *const *parts, size_t count);

/* True for what can be such a name. */
bool doubt_id_is_good(const char *id);

#endif
