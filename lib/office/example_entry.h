/* SPDX-License-Identifier: MIT */
/* example_entry.h - the car that stands in the entry list of a new event until it is written over:
 * a list must hold one. */
#ifndef CAIRN_EXAMPLE_ENTRY_H
#define CAIRN_EXAMPLE_ENTRY_H

#include <stdbool.h>
#include <string.h>

#include "event/entries.h"

/* Its driver, by whom it is known. */
#define EXAMPLE_DRIVER "Example Driver"

/* True where the list is that car alone: it says nothing of those that are still to come. */
static inline bool entries_are_example(const struct entries *entries) {
    return entries->count == 1 && strcmp(entries->list[0].driver, EXAMPLE_DRIVER) == 0;
}

#endif
