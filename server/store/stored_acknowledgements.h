/* SPDX-License-Identifier: MIT */
/* stored_acknowledgements.h - doubts and refusals that somebody acknowledged, or took up again. See
 * store.h for results and threads. */
#ifndef CAIRN_STORED_ACKNOWLEDGEMENTS_H
#define CAIRN_STORED_ACKNOWLEDGEMENTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct store;

struct stored_acknowledgement {
    int64_t made_ms;   /* since 1970 */
    char *doubt_id;    /* see doubt_id.h */
    bool reopened;     /* taken up again; else acknowledged */
    char *car, *point; /* "" for none */
    char *title;       /* what was doubtful */
    char *made_by, *reason;
};

/* Adds one inside a transaction. */
int store_add_acknowledgement(struct store *store,
                              const struct stored_acknowledgement *acknowledgement, int64_t key_id);

/* The latest of each doubt, the newest first. Owner: the caller, see stored_acknowledgements_free.
 */
int store_acknowledgements(struct store *store, struct stored_acknowledgement **out, size_t *count);
void stored_acknowledgements_free(struct stored_acknowledgement *list, size_t count);

/* That of a doubt, NULL where there is none; borrowed. */
const struct stored_acknowledgement *
stored_acknowledgement_of(const struct stored_acknowledgement *list, size_t count,
                          const char *doubt_id);

#endif
