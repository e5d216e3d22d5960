/* SPDX-License-Identifier: MIT */
/* check_variants.h - what is doubtful in the `for` lines of the route: a part of `cairn check`. */
#ifndef CAIRN_CHECK_VARIANTS_H
#define CAIRN_CHECK_VARIANTS_H

#include "event/event.h"

struct problems;

/* Adds a doubt for each line that holds for no car, for each test that starts from a control which
 * is not on the route of some of its cars, for each main control that clears no lateness of some,
 * for each item that is off for all, and for each car that has nothing on its route. */
void check_variants(const struct event *event, struct problems *problems);

#endif
