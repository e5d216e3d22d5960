/* SPDX-License-Identifier: MIT */
/* merge_notices.h - adds the notices and the cases (enquiries and protests) that another file of
 * the event has. One owner of the store at a time. */
#ifndef CAIRN_MERGE_NOTICES_H
#define CAIRN_MERGE_NOTICES_H

#include "store/stored_enquiries.h"
#include "store/stored_notices.h"

struct store;

/* What one side has. A plain value. */
struct notices_and_cases {
    struct stored_notice *notices;
    size_t notice_count;
    struct stored_enquiry *cases;
    size_t case_count;
};

/* Adds what the store lacks, inside a transaction.
 *   notices, cases  increased by how many were added; an answer to an open case counts as one
 * Returns: ERR_OK; ERR_IO, see store_message; ERR_NOMEM. */
int notices_merge(struct store *store, const struct notices_and_cases *theirs, int *notices,
                  int *cases);

/* Frees the lists. */
void notices_and_cases_clear(struct notices_and_cases *facts);

#endif
