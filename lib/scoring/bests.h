/* SPDX-License-Identifier: MIT */
/* bests.h - the best of each test that asks for one, overall, in each class and in each category.
 * What a car can be the best with, its kind says (struct kind, `bid`), with the values that hold
 * for that car. Source: the contract, "special-test", "Special tests" and "Bests". One owner at a
 * time while they are found, then safe for any number of readers. */
#ifndef CAIRN_BESTS_H
#define CAIRN_BESTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct arena;
struct event;
struct item;
struct rules;
struct score_sheet;
struct view;

/* Among which cars the best is looked for. */
enum best_scope { SCOPE_OVERALL, SCOPE_CLASS, SCOPE_CATEGORY };

/* What one car can be the best with. */
struct bid {
    int64_t value;  /* less is better: ms of elapsed time, or thousandths of cost */
    bool preferred; /* goes before one that is not, whatever their values */
};

/* The best of a test in one scope. */
struct best {
    int64_t value; /* as of the bid; TIME_NONE where nobody has one */
    int car;       /* the first in the entry list of equal ones, -1 */
    bool preferred;
};

struct bests {
    /* By test, then: overall, each class and, where there are categories, each of them and those
     * without. */
    struct best *cells;
    int stride;           /* cells of one test */
    int seen;             /* how many readings there were when they were found */
    bool with_substitute; /* they may follow from event->substitute */
};

/* How many cells the bests of an event with these rules have. */
size_t bests_cells(const struct rules *rules);

/* Memory in the arena for the bests of an event with these rules; bests_find or bests_copy sets
 * them. Returns ERR_OK or ERR_NOMEM. */
int bests_init(struct bests *bests, const struct rules *rules, struct arena *arena);

/* Copies what was found; both have memory for an event with these rules. */
void bests_copy(struct bests *to, const struct bests *from, const struct rules *rules);

/* Finds them, among the cars that are not disqualified.
 *   sheet    scratch, left set to this event, view and these bests
 *   scratch  bests_cells of them
 * Returns: true where the value of one is another than before. */
bool bests_find(struct bests *bests, const struct event *event, const struct view *view,
                struct score_sheet *sheet, struct best *scratch);

/* True where none of these cars has another bid at a test that asks for a best than when the bests
 * were found. Most readings are not of such a test, and then the bests need not be searched again.
 *   sheet    scratch, left set to this event, view and these bests where they stand
 *   cars     places in the entry list
 *   scratch  bests_cells of them */
bool bests_stand(const struct bests *bests, const struct event *event, const struct view *view,
                 struct score_sheet *sheet, const int *cars, int count, struct best *scratch);

/* The best of an item that asks for one, among the cars of the class, of the category or of all,
 * to which `car` belongs. Borrowed from `bests`. */
const struct best *bests_of(const struct bests *bests, const struct event *event,
                            const struct item *item, enum best_scope scope, int car);

#endif
