/* SPDX-License-Identifier: MIT */
/* write_figures.h - what the threads of all events count of their writes, from the start on. Plain
 * values; any thread may add and read. */
#ifndef CAIRN_WRITE_FIGURES_H
#define CAIRN_WRITE_FIGURES_H

#include <stdatomic.h>

#include "live/row_refusal.h"
#include "system/histogram.h"

/* Sorts of writes as they are counted. */
enum upload_sort { UPLOAD_READINGS, UPLOAD_DECISIONS, UPLOAD_OTHER, UPLOAD_SORT_COUNT };

/* All zero at first. */
struct write_figures {
    atomic_llong uploads[UPLOAD_SORT_COUNT]; /* writes that were taken */
    atomic_llong accepted, duplicates;
    struct row_refusals refused;
    atomic_llong failures;
    struct histogram commit, publish; /* to the disk; scored and swapped in */
    atomic_int waiting; /* writes that are queued and not answered yet, of all events */
};

#endif
