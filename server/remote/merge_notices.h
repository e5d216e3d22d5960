/* SPDX-License-Identifier: MIT */
/* merge_notices.h - notices and cases of two event files of one event, united. */
#ifndef CAIRN_MERGE_NOTICES_H
#define CAIRN_MERGE_NOTICES_H

#include "store/store.h"

/* What one side has. A plain value. */
struct merged_notices {
    struct stored_notice *notices;
    size_t notice_count;
    struct stored_enquiry *cases;
    size_t case_count;
};

/* Adds what is not there, inside a transaction.
 *   notices, cases  count up by what was added; an answer to an open case counts as one
 * Returns: ERR_OK; ERR_IO, told in store_message; ERR_NOMEM. */
int notices_merge(struct store *store, const struct merged_notices *theirs, int *notices,
                  int *cases);

/* Frees the lists. */
void merged_notices_clear(struct merged_notices *facts);

#endif
