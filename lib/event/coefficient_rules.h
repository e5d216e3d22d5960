/* SPDX-License-Identifier: MIT */
/* coefficient_rules.h - the "coefficient" of event.json's "scoring". Source: the contract,
 * "Totals". */
#ifndef CAIRN_COEFFICIENT_RULES_H
#define CAIRN_COEFFICIENT_RULES_H

#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* Reads "coefficient" (which may be left out) into rules->scoring. Periods and categories
 * must have been read: its table names them.
 *   scoring, place  what may hold it, and its place for messages */
void coefficient_rules_read(const struct json_reader *reader, const struct json_t *scoring,
                            const struct json_place *place, struct rules *rules);

#endif
