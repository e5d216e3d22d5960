/* SPDX-License-Identifier: MIT */
/* finisher_rules.h - the "finisher" of event.json's "scoring". Source: the contract, "Ranking". */
#ifndef CAIRN_FINISHER_RULES_H
#define CAIRN_FINISHER_RULES_H

#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* Reads "finisher" (which may be left out) into `out`.
 *   scoring, place  what may hold it, and its place for messages */
void finisher_rules_read(const struct json_reader *reader, const struct json_t *scoring,
                         const struct json_place *place, struct scoring *out);

#endif
