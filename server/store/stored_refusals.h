/* SPDX-License-Identifier: MIT */
/* stored_refusals.h - rows of readings that were not taken, kept so that the office sees them. See
 * store.h for results and threads. */
#ifndef CAIRN_STORED_REFUSALS_H
#define CAIRN_STORED_REFUSALS_H

#include <stddef.h>
#include <stdint.h>

struct store;

/* A row of an upload of readings that was not taken, as it was written. */
struct stored_refusal {
    /* Of the upload, from 1. 0: the refusal stands for all rows of an upload that are not kept one
     * by one, and `reading_id` begins with how many. */
    int64_t row;
    char *doubt_id; /* see doubt_id.h: the same for the same row, reason and key */
    char *point, *car, *time, *elapsed, *faults;
    char *reading_id; /* given, or what it would have been */
    char *reason;
    /* what is read back beside it */
    int64_t times; /* how often it was refused */
    int64_t upload, received_ms, key_id;
    char *label; /* of the key, "" for none */
};

/* Adds one inside a transaction. */
int store_add_refusal(struct store *store, const struct stored_refusal *refusal, int64_t upload_id);

/* Those that still matter, the latest first: no reading of their id was taken later and none that
 * replaces them, and nobody acknowledged them. Owner: the caller, see stored_refusals_free. */
int store_open_refusals(struct store *store, struct stored_refusal **out, size_t *count);
void stored_refusals_free(struct stored_refusal *list, size_t count);

#endif
