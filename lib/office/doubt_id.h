/* SPDX-License-Identifier: MIT */
/* doubt_id.h - the id of a doubtful thing, made from its evidence: with other evidence it has
 * another id, so that what somebody has acknowledged is shown again when it changes. */
#ifndef CAIRN_DOUBT_ID_H
#define CAIRN_DOUBT_ID_H

#include <stdbool.h>
#include <stddef.h>

enum { DOUBT_ID_LEN = 16 };

/* Makes the id: 16 hex digits over the texts in their order. libsodium must have been set up.
 *   parts  `count` texts, none of them NULL; borrowed for the call */
void doubt_id_make(char id[DOUBT_ID_LEN + 1], const char *const *parts, size_t count);

/* True for a text that can be such an id. */
bool doubt_id_is_good(const char *id);

#endif
