/* SPDX-License-Identifier: MIT */
/* check_schedule.h - keys of the road's schedule that contradict each other or change nothing. */
#ifndef CAIRN_CHECK_SCHEDULE_H
#define CAIRN_CHECK_SCHEDULE_H

#include "event/rules.h"

struct problems;

/* Adds a doubt, with its place in event.json and a cure, for each. */
void check_schedule(const struct rules *rules, struct problems *problems);

#endif
