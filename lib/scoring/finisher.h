/* SPDX-License-Identifier: MIT */
/* finisher.h - who is classified at the end. Source: the contract, "Ranking". */
#ifndef CAIRN_FINISHER_H
#define CAIRN_FINISHER_H

#include "scoring/scoring.h"

/* Whether a car reached enough of the route to be classified: the share of it that the event asks
 * for, and the last time control where it asks for that. */
bool finisher_is(const struct scores *scores, const struct score_sheet *sheet);

#endif
