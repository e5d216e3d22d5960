/* SPDX-License-Identifier: MIT */
/* finisher.h - who is classified at the end. Source: the contract, "Ranking". Safe for any number
 * of threads at once, each with a sheet of its own. */
#ifndef CAIRN_FINISHER_H
#define CAIRN_FINISHER_H

#include "scoring/scoring.h"

/* Whether the sheet's car reached enough of its route to be classified: the share of it that the
 * event asks for, and the last time control where it asks for that.
 *   sheet  scored */
bool finisher_is(const struct scores *scores, const struct score_sheet *sheet);

#endif
