/* SPDX-License-Identifier: MIT */
/* car_search.h - cars found by what somebody types: a number, a name, a make. */
#ifndef CAIRN_CAR_SEARCH_H
#define CAIRN_CAR_SEARCH_H

#include <stdbool.h>
#include <stddef.h>

#include "event/entries.h"

/* True where an entry fits: digits are its whole number; otherwise each word typed stands somewhere
 * in the crew's names, the make, the model or the team. Case and the accents of European letters
 * make no difference, and nothing typed fits every car.
 *   typed  UTF-8 */
bool car_search_fits(const struct entry *entry, const char *typed);

/* True where each word typed stands in one of the texts, as above; of a very long line only the
 * beginning is looked at.
 *   texts  `count` of them, none NULL */
bool car_search_in_texts(const char *const *texts, size_t count, const char *typed);

#endif
