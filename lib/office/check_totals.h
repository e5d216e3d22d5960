/* SPDX-License-Identifier: MIT */
/* check_totals.h - what is doubtful in how totals are made and ties decided: a part of `cairn
 * check`. */
#ifndef CAIRN_CHECK_TOTALS_H
#define CAIRN_CHECK_TOTALS_H

#include "event/event.h"

struct problems;

/* Adds a doubt for each rule of totals, ties and finishers that nothing of the event answers to: a
 * coefficient that no entry has, a test for ties that neither a tie nor a prize looks at, a share
 * of tests where there are none, an average of no other tests. And for each tie that is named
 * twice, or by a test that a ranked car has not, and a day that costs less than one missed point.
 */
void check_totals(const struct event *event, struct problems *problems);

#endif
