/* SPDX-License-Identifier: MIT */
/* stored_enquiries.h - what crews ask and protest against, and the answers. In messages, in the API
 * and on pages both sorts are cases. See store.h for results and threads. */
#ifndef CAIRN_STORED_ENQUIRIES_H
#define CAIRN_STORED_ENQUIRIES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct store;

struct stored_enquiry {
    int64_t number;    /* from 1 */
    int64_t opened_ms; /* since 1970 */
    char *kind;        /* "enquiry" or "protest" */
    char *car;
    char *point;
    char *text;
    bool by_crew;        /* opened with the crew's own code, not by the office */
    int64_t answered_ms; /* 0 while it is open */
    char *outcome;       /* "answered", "upheld", "rejected" or "withdrawn"; "" while it is open */
    char *answer;
};

/* Opens one, inside a transaction.
 *   key_id  0 for none
 *   body    as it was sent, `len` bytes, which are kept
 *   number  gets its number */
int store_add_enquiry(struct store *store, const struct stored_enquiry *enquiry, int64_t key_id,
                      const char *body, size_t len, int64_t *number);

/* Answers the open one of `enquiry->number`, inside a transaction; the rest as above. */
int store_add_answer(struct store *store, const struct stored_enquiry *enquiry, int64_t key_id,
                     const char *body, size_t len);

/* All in their order. Owner: the caller, see stored_enquiries_free. */
int store_enquiries(struct store *store, struct stored_enquiry **out, size_t *count);
void stored_enquiries_free(struct stored_enquiry *list, size_t count);

/* The number of the car that one is about. */
int64_t stored_enquiry_car(const struct stored_enquiry *enquiry);

#endif
