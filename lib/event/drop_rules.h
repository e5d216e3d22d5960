/* SPDX-License-Identifier: MIT */
/* drop_rules.h - the "drop_worst" of event.json's "scoring". Source: the contract, "Totals". */
#ifndef CAIRN_DROP_RULES_H
#define CAIRN_DROP_RULES_H

#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* Reads "drop_worst" (which may be left out) into `out`.
 *   scoring, place  what may hold it, and its place for messages */
void drop_rules_read(const struct json_reader *reader, const struct json_t *scoring,
                     const struct json_place *place, struct scoring *out);

#endif
