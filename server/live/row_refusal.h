/* SPDX-License-Identifier: MIT */
/* row_refusal.h - why rows of readings and decisions are refused, in few classes that /metrics
 * counts. Any thread. */
#ifndef CAIRN_ROW_REFUSAL_H
#define CAIRN_ROW_REFUSAL_H

#include <stdatomic.h>

/* Why a row of readings or decisions was not taken. */
enum row_refusal {
    ROW_UNREADABLE,    /* of its body */
    ROW_NOT_THIS_KEYS, /* its point is none of the key's */
    ROW_UNKNOWN_POINT,
    ROW_UNKNOWN_CAR,
    ROW_ID_TAKEN, /* the id is known with another content */
    ROW_VALUE,    /* anything else that is wrong with it */
    ROW_REFUSAL_COUNT
};

/* Its name in /metrics: lower case letters and "-". */
const char *row_refusal_word(enum row_refusal refusal);

/* How many rows of each class, counted since the start. */
struct row_refusals {
    atomic_llong counts[ROW_REFUSAL_COUNT];
};

#endif
