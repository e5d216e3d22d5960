/* SPDX-License-Identifier: MIT */
/* faults.h - cones, lines, wrong routes: what a test names and what they cost. Source: the
 * contract, "special-test" and "consistency". */
#ifndef CAIRN_FAULTS_H
#define CAIRN_FAULTS_H

#include "event/readings.h"
#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* Reads the "faults" of a test into the item; what is wrong is reported.
 *   allow_maximum  true where a fault may be "maximum" */
void faults_read(const struct json_reader *reader, const struct json_t *object,
                 const struct json_place *place, bool allow_maximum, struct item *item);

/* What the faults of a reading cost, thousandths; `reading` may be NULL. Those that are "maximum"
 * cost nothing here. */
int64_t faults_cost(const struct item *item, const struct reading *reading);

/* True where a reading has any fault, whatever it costs; `reading` may be NULL. */
bool faults_any(const struct reading *reading);

/* The first fault of a reading that is "maximum", -1 where there is none; `reading` may be
 * NULL. */
int faults_maximum(const struct item *item, const struct reading *reading);

#endif
