/* SPDX-License-Identifier: MIT */
/* fact.h - what a reading and a decision have in common: fields as written, an id, an order.
 * A fact is never changed or deleted. Source: the contract, section 2. */
#ifndef CAIRN_FACT_H
#define CAIRN_FACT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/times.h"

struct textbuf;

enum { FACT_ID_MAX = 64 };

/* What a log did with a fact that it was given. */
enum fact_result {
    FACT_ADDED,
    FACT_DUPLICATE, /* it is there already, the same in every field */
    FACT_REFUSED,
    FACT_NOMEM
};

/* True where the text may be an id: 1 to FACT_ID_MAX of A-Z a-z 0-9 . _ : - */
bool fact_id_is_good(const char *id);

/* Appends the id that a fact without one gets: the first 32 hex digits of the SHA-256 of its
 * fields, as written, joined by "|". */
void fact_derive_id(const char *const *fields, size_t count, struct textbuf *id);

/* The id of a fact: as given, or derived from its other fields.
 *   fields  `count` of them, and behind them the id, good or empty */
void fact_id(const char *const *fields, size_t count, char id[FACT_ID_MAX + 1]);

/* True where two facts have the same fields, as written. */
bool fact_same(const char *const *a, const char *const *b, size_t count);

/* The contract's order of facts of one place: the earliest `at`, none last; then the smallest id.
 * Returns true where the first goes before the second. */
bool fact_before(bool a_has_at, struct instant a_at, const char *a_id, bool b_has_at,
                 struct instant b_at, const char *b_id);

#endif
