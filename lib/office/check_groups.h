/* SPDX-License-Identifier: MIT */
/* check_groups.h - what is doubtful between event.json and the entry list's columns for groups,
 * prizes, teams and ties: a part of `cairn check`. */
#ifndef CAIRN_CHECK_GROUPS_H
#define CAIRN_CHECK_GROUPS_H

#include "event/event.h"

struct problems;

/* Adds a doubt for each group without a car, each prize for or among cars that are not there, teams
 * by a club that no entry names, coefficients that nothing asks for, and, where the driver's age
 * decides a tie, births that are not told; and for each birth that cannot be the driver's. */
void check_groups(const struct event *event, struct problems *problems);

#endif
