/* SPDX-License-Identifier: MIT */
/* json_match.h - compares JSON with what is expected of it. */
#ifndef CAIRN_TESTS_JSON_MATCH_H
#define CAIRN_TESTS_JSON_MATCH_H

#include <stdbool.h>

#include <jansson.h>

/* True where `actual` (NULL matches nothing) holds all that `expected` says: an object each of its
 * keys, an array element by element at the same length, {"$any": [...]} each of its elements
 * somewhere in an array; anything else must be equal. Each difference is printed, with `what` and
 * its place in `actual` ahead of it. */
bool json_matches(const char *what, const json_t *expected, const json_t *actual);

#endif
