/* SPDX-License-Identifier: MIT */
/* award_rules.h - the prizes that event.json names. Source: schema/README.md, "Prizes", and the
 * contract, "Teams and prizes". */
#ifndef CAIRN_AWARD_RULES_H
#define CAIRN_AWARD_RULES_H

#include "event/rules.h"

struct json_reader;
struct json_t;

/* Reads "awards" into the rules, whose classes, scoring and route must have been read well; what is
 * wrong is reported with its place. */
void award_rules_read(const struct json_reader *reader, const struct json_t *root,
                      struct rules *rules);

/* What a prize goes by: "overall" .. "team", "country", "club" or "make". */
const char *award_by_word(const struct award *award);

#endif
