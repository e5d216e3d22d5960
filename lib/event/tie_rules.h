/* SPDX-License-Identifier: MIT */
/* tie_rules.h - the "ties" of event.json's "scoring". Source: the contract, "Ranking". */
#ifndef CAIRN_TIE_RULES_H
#define CAIRN_TIE_RULES_H

#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* Reads "ties" (which may be left out) into rules->scoring. Those that name a test are left to
 * tie_rules_complete.
 *   scoring, place  what may hold it, and its place for messages */
void tie_rules_read(const struct json_reader *reader, const struct json_t *scoring,
                    const struct json_place *place, struct rules *rules);

/* True where one of the ties goes by the driver's age. */
bool tie_rules_ask_age(const struct scoring *scoring);

/* Once the route is read: looks up the tests that ties name.
 *   scoring, place  as above */
void tie_rules_complete(const struct json_reader *reader, const struct json_t *scoring,
                        const struct json_place *place, struct rules *rules);

#endif
