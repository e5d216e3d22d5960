/* SPDX-License-Identifier: MIT */
/* check_rules.h - what of the penalty rules and ideals changes nothing, or charges otherwise than
 * it says: a part of `cairn check`. */
#ifndef CAIRN_CHECK_RULES_H
#define CAIRN_CHECK_RULES_H

#include "event/rules.h"

struct problems;

/* Adds a doubt, at its own place (the defaults, an item, a line of `for`, a check or pad), for each
 * limit where nothing is limited, or that lies within the grace; step that nobody is charged by;
 * precision coarser than the units that are charged; `part` at a control whose clock has none; flat
 * amount above its cap; and for each regularity whose ideals are to be cut and are all given. */
void check_rules(const struct rules *rules, struct problems *problems);

#endif
