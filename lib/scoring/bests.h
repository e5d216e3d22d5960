/* SPDX-License-Identifier: MIT */
/* bests.h - the best elapsed time of each behind-best test, overall and in each class. Source: the
 * contract, "special-test". */
#ifndef CAIRN_BESTS_H
#define CAIRN_BESTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct event;
struct rules;
struct score_sheet;
struct view;

/* Best counted elapsed of each behind-best test. */
struct bests {
    int64_t *of; /* [item * (classes + 1) + (0 overall, 1 + class)], TIME_NONE where none */
    int *by;     /* [same]: the car that has it, the first in the entry list of equal ones; -1 */
    int stride;
    int seen;             /* how many readings there were when they were found */
    bool with_substitute; /* they may follow from event->substitute */
};

/* How many members `of` and `by` have. */
size_t bests_cells(const struct rules *rules);

/* Copies what was found; both have the arrays of an event with these rules. */
void bests_copy(struct bests *to, const struct bests *from, const struct rules *rules);

/* Finds them.
 *   sheet  scratch, left set to this event, view and these bests */
void bests_find(struct bests *bests, const struct event *event, const struct view *view,
                struct score_sheet *sheet);

/* True where none of these cars has another elapsed time at a behind-best test than when the bests
 * were found. Most readings are not the start or finish of such a test, and then the bests need not
 * be searched again.
 *   sheet  scratch
 *   cars   places in the entry list */
bool bests_stand(const struct bests *bests, const struct event *event, const struct view *view,
                 struct score_sheet *sheet, const int *cars, int count);

#endif
