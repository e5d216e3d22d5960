/* SPDX-License-Identifier: MIT */
/* histogram.h - how long something took, counted by fixed bounds from 100 microseconds to 5
 * seconds. A plain value that is valid when zero. Any thread may add while others read: each figure
 * is whole, and one that is read while others are added may lack the newest. */
#ifndef CAIRN_HISTOGRAM_H
#define CAIRN_HISTOGRAM_H

#include <stdatomic.h>
#include <stdint.h>

#include "base/textbuf.h"

enum { HISTOGRAM_BOUNDS = 15 };

struct histogram {
    /* by the least bound that is not below the duration; the last: above all bounds */
    atomic_llong counts[HISTOGRAM_BOUNDS + 1];
    atomic_llong sum_us;
};

/* Adds one duration, microseconds, 0 or more. */
void histogram_add(struct histogram *h, int64_t us);

/* How many were added. */
int64_t histogram_count(const struct histogram *h);

/* The least bound that is not below `per_mille` of 1,000 of the durations.
 *   per_mille  1 to 1000: 500 for the median
 * Returns: microseconds; -1 where nothing was added; INT64_MAX where it is beyond all bounds. */
int64_t histogram_quantile(const struct histogram *h, int per_mille);

/* Appends the samples of an OpenMetrics histogram in seconds: NAME_bucket, NAME_count, NAME_sum. */
void histogram_write(const struct histogram *h, const char *name, struct textbuf *b);

#endif
