/* SPDX-License-Identifier: MIT */
/* scoring.h - the whole event scored: each car's sums, status and place.
 * A pure function of an event and a view. Scoring again gives the same, in any order and after
 * any number of partial rescorings. Source: the contract, "Totals" and "Ranking". */
#ifndef CAIRN_SCORING_H
#define CAIRN_SCORING_H

#include "event/event.h"
#include "scoring/bests.h"
#include "scoring/score_sheet.h"
#include "scoring/view.h"

struct ranked;

/* A car's status in the event. */
enum car_status {
    STATUS_FINISHED,
    STATUS_RUNNING,
    STATUS_ENTERED,
    STATUS_RETIRED,
    STATUS_NOT_CLASSIFIED,
    STATUS_DISQUALIFIED,
    STATUS_NOT_STARTED
};

/* The word of a status, as in the standings. */
const char *status_word(enum car_status status);

/* A car's result on one basis. */
struct tally {
    int64_t total; /* thousandths */
    int fails;
};

/* The two bases: with the coefficient, and without it, which is worked out only where class
 * standings are made on it (scores_class_basis).
 * Which tests are dropped is worked out on each. */
enum basis { BASIS_CORRECTED, BASIS_PLAIN, BASIS_COUNT };

/* ITEM_OFF: it is not on the car's route.
 * ITEM_TO_COME: nothing is known of the item for this car yet, so that its 0 is not a result. */
enum {
    ITEM_DROPPED = 1,
    ITEM_DROPPED_PLAIN = 2,
    ITEM_ALL_ABSENT = 4,
    ITEM_TO_COME = 8,
    ITEM_OFF = 16
};

/* A car's result, and what each part of its total came to. Outputs show these parts and calculate
 * none of them again: tests and controls = items counted (totals_counted); total = tests +
 * controls + absent + added + decided - over. */
struct car_score {
    enum car_status status;
    int through;  /* last point read at in range, -1 */
    int awaiting; /* scored points awaited before it */
    int awaited;  /* all scored points awaited in range */
    int doubtful;
    int clean;    /* scored points that are clean, also in dropped tests */
    int furthest; /* how many clean ones in a row from the start; cancelled and waived are skipped
                   */
    struct tally tally[BASIS_COUNT];
    int64_t coefficient; /* thousandths */
    int64_t decided;     /* sum of the penalty decisions without a point */
    int decided_fails;   /* the same of the fails decisions */
    int control_fails;

    /* Of the corrected basis, each item and each day of absence with a coefficient on tests. */
    int64_t tests; /* that count */
    int64_t controls;
    int64_t absent; /* absent points, each day up to its cap */
    int64_t over;   /* what days cost more than day_cap; it is taken off */

    /* The coefficient on the total (corrected basis); 0 where it is on each test or there is none.
     * Rounded once, for all that it multiplies together. */
    int64_t multiplied; /* the items of its kinds, without dropped ones, and perhaps absence */
    int64_t product;    /* these times the coefficient, to the thousandth */
    int64_t added;      /* what the coefficient adds to them, rounded as the event says */

    /* by item */
    int64_t *item_penalty; /* after test_cap, before coefficient and drop */
    int64_t *item_value;   /* what it costs in the total, or would were it not dropped: with the
                            * coefficient (one on the total: to the thousandth) */
    int *item_fails;
    int *item_awaited;
    unsigned char *item_flags; /* ITEM_… */

    /* by day */
    int64_t *day_penalty; /* with dropped tests, up to day_cap */
    int *day_fails;
    int64_t *day_absent;  /* its absent points, before the cap */
    int64_t *day_charged; /* after it */
    int64_t *day_over;    /* what it cost more than day_cap (corrected basis); unused without */
    int *day_absent_fails;

    /* What only ties look at, see ties.h. */
    int64_t *tie_times; /* by tie that compares times (struct tie); TIME_NONE where it has none */
    int64_t *whole_costs;
    int whole_cost_count;

    /* places, 0 where unplaced */
    int position;
    bool equal;
    int class_position;
};

struct scores {
    const struct event *event;
    const struct view *view;
    struct bests bests;
    bool *drops; /* by day: drop_worst takes from its tests in this view */
    struct car_score *cars;
    int *order; /* cars in overall order: placed ones first, by place; then by number */
    int placed;
    struct arena *arena;
};

/* Scratch memory while scores are made or brought up to date. One owner at a time. */
struct scorer {
    struct score_sheet sheet;
    struct best *bests;
    struct ranked *ranked;
};

/* Memory for events of this size. Returns ERR_OK or ERR_NOMEM; scorer_clear in any case. */
int scorer_init(struct scorer *scorer, const struct event *event);
void scorer_clear(struct scorer *scorer);

/* Scores an event.
 *   event, view  borrowed until scores_free
 * Returns: ERR_OK or ERR_NOMEM. Owner: the caller. */
int scores_new(const struct event *event, const struct view *view, struct scores **out);

/* Frees scores; NULL is accepted. */
void scores_free(struct scores *scores);

/* A copy to bring up to date, for an event with more facts than that of `old`.
 *   event, view  borrowed until scores_free; the same rules, entries and rulings as the old ones
 * Returns: ERR_OK or ERR_NOMEM. Owner: the caller. */
int scores_copy(const struct scores *old, const struct event *event, const struct view *view,
                struct scores **out);

/* Rescores the cars whose readings changed, without ranking; all of them where a best that
 * a test asks for changed with it.
 *   cars  places in the entry list */
void scores_update(struct scores *scores, struct scorer *scorer, const int *cars, int count);

/* Rescores all cars, without ranking. */
void scores_update_all(struct scores *scores, struct scorer *scorer);

/* Ranks again after updates. */
void scores_rank(struct scores *scores, struct scorer *scorer);

/* The sheet of one car with its scored points, for a card; safe for any number of threads at once.
 *   sheet  set up here; the caller clears it with score_sheet_clear in any case
 * Returns: ERR_OK or ERR_NOMEM. */
int scores_sheet(const struct scores *scores, int car, struct score_sheet *sheet);

/* The basis of class standings. */
enum basis scores_class_basis(const struct scores *scores);

/* True where a car of that status can have a position. */
bool status_is_placed(enum car_status status);

/* True where the car's period and category are part of the overall classification. */
bool scores_in_overall(const struct scores *scores, int car);

/* True where the car's category is part of class standings. */
bool scores_in_classes(const struct scores *scores, int car);

#endif
