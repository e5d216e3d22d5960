/* SPDX-License-Identifier: MIT */
/* told_faults.h - the faults of one car on its score sheet: those that came with the reading that
 * counts at a point, and those that decisions tell there. Source: the contract, "Faults anywhere".
 * Used by the sheet and by the kinds. */
#ifndef CAIRN_TOLD_FAULTS_H
#define CAIRN_TOLD_FAULTS_H

#include "event/faults.h"
#include "scoring/score_sheet.h"

/* Adds all faults of a car at a point to a sum. Rulings on the point are not looked at.
 *   item     the point's, with that car's own values; it names faults
 *   counted  the reading that counts there, NULL where there is none or the car is out */
void told_faults_add(struct fault_sum *sum, const struct score_sheet *sheet, int car,
                     const struct item *item, int point, const struct reading *counted);

/* The same as a sum of their own, also where the item names none. */
struct fault_sum told_faults(const struct score_sheet *sheet, int car, const struct item *item,
                             int point, const struct reading *counted);

/* The faults that are charged at a scored point of the sheet's car: at a control also those of its
 * way out. None at an item whose faults are charged otherwise.
 *   point  the one by which it is scored */
struct fault_sum told_faults_at(const struct score_sheet *sheet, const struct item *item,
                                int point);

/* Sums up, in fault_sums and fault_fails, what faults add to an item beside its scored points: at
 * points that are not scored, and, where a kind says so, at all. */
void told_faults_sum(struct score_sheet *sheet, const struct item *item);

/* True where faults told at a point are part of the item's sum and of no scored point. */
bool told_faults_beside(const struct rules *rules, const struct item *item, int point);

#endif
