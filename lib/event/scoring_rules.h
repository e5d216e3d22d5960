/* SPDX-License-Identifier: MIT */
/* scoring_rules.h - the "scoring" object of event.json: timing, coefficient, drop, teams, ties,
 * finishers, and the default penalty rule of each kind. Source: the contract, section 3. */
#ifndef CAIRN_SCORING_RULES_H
#define CAIRN_SCORING_RULES_H

#include "event/rules.h"

struct json_reader;
struct json_t;

/* Reads "scoring" (which may be left out) into rules->scoring. Periods must have been read: the
 * coefficient's table names them. Ties that name a test are left to scoring_rules_complete. */
void scoring_rules_read(const struct json_reader *reader, const struct json_t *root,
                        struct rules *rules);

/* Once the route is read: looks up the tests that ties name. */
void scoring_rules_complete(const struct json_reader *reader, const struct json_t *root,
                            struct rules *rules);

#endif
