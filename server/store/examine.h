/* SPDX-License-Identifier: MIT */
/* examine.h - checks an event file without opening it to write. Any thread. */
#ifndef CAIRN_EXAMINE_H
#define CAIRN_EXAMINE_H

#include <stdint.h>

#include "store/damaged_facts.h"
#include "store/store.h"

struct textbuf;

/* What store_examine finds. A plain value; store_condition_clear frees what it owns. */
struct store_condition {
    int64_t version; /* of the file's schema */
    int64_t newest;  /* the newest that this program knows; the file's may be later */
    int64_t readings;
    int64_t decisions;
    struct store_epoch epoch;    /* where the schema is the newest */
    struct damaged_facts damage; /* facts that do not read or are altered; likewise */
};

/* Checks an event file without changing it, also while others write: its application id, its
 * schema, whether its pages are consistent, each fact and its link of the chain.
 *   why  gets what is wrong with the file as a whole
 * Returns: ERR_OK, and `out` is filled, damaged facts too; ERR_INPUT where it is damaged as a whole
 * or no event file; ERR_IO where it cannot be read; ERR_NOMEM. */
int store_examine(const char *path, struct store_condition *out, struct textbuf *why);
void store_condition_clear(struct store_condition *condition);

#endif
