/* SPDX-License-Identifier: MIT */
/* lacking.h - which readings a car lacks on the road, and which of its times must rise along it. At
 * a test of several attempts the later ones may be driven in another round, behind other items:
 * they say nothing of the items between. Source: the contract, "Special tests". */
#ifndef CAIRN_LACKING_H
#define CAIRN_LACKING_H

#include <stdbool.h>

struct event;
struct rules;

/* True where a point belongs to an attempt behind the first. */
bool lacking_is_repeat(const struct rules *rules, int point);

/* True where a car that was read further on lacks a reading at a point by which it is scored. At a
 * test of several attempts these are the finishes of the first, of each that was begun or that a
 * later one followed, and, where they are added up, of each that is closed.
 *   point  one without a reading that counts
 *   last   the last point of the car's route at which it was read, -1 for none */
bool lacking_at(const struct event *event, int car, int point, int last);

#endif
