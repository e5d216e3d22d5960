/* SPDX-License-Identifier: MIT */
/* consistency.h - what event.json says of a consistency test alone. Source: the contract,
 * "consistency". */
#ifndef CAIRN_CONSISTENCY_H
#define CAIRN_CONSISTENCY_H

#include "event/rules.h"

/* What the laps are compared with: the first of them, their mean, or a time named beforehand. */
enum reference { REFERENCE_FIRST, REFERENCE_MEAN, REFERENCE_NOMINATED };

struct consistency {
    int laps;
    enum reference reference;
};

/* Of an item of this kind. */
static inline const struct consistency *consistency_of(const struct item *item) {
    return item->own;
}

#endif
