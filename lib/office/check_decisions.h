/* SPDX-License-Identifier: MIT */
/* check_decisions.h - decisions that change nothing: a part of `cairn check`. */
#ifndef CAIRN_CHECK_DECISIONS_H
#define CAIRN_CHECK_DECISIONS_H

#include "event/event.h"

struct problems;

/* Adds a doubt for each decision at something that is not on its car's route, and for each that
 * tells faults where its car is out. */
void check_decisions(const struct event *event, struct problems *problems);

#endif
