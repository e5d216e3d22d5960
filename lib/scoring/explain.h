/* SPDX-License-Identifier: MIT */
/* explain.h - how a penalty came about, in a sentence for the card.
 * Written from the scored point that made the penalty, never from a second calculation; each step
 * that changed the number is in the sentence. English. Appends to a buffer, which is marked as
 * failed where memory is out. Safe for any number of threads at once. */
#ifndef CAIRN_EXPLAIN_H
#define CAIRN_EXPLAIN_H

#include "base/textbuf.h"
#include "scoring/score_sheet.h"

/* What an explanation is written from: see explain_context_of. */
struct explain_context {
    const struct event *event;
    const struct view *view;
    const struct score_sheet *sheet; /* the car's, scored */
    const struct item *item;         /* with the car's own values */
    int scored;                      /* place of the scored point */
};

/* For one scored point of a sheet, which must be on the car's route. */
struct explain_context explain_context_of(const struct score_sheet *sheet, int scored);

/* Appends the sentence(s) on one scored point. */
void explain_point(struct textbuf *b, const struct explain_context *context);

/* What a deviation is called. */
struct deviation_words {
    const char *none;
    const char *early;
    const char *late;
};

/* Of points: "on time", "early", "late"; and of laps: "no difference", "faster", "slower". */
extern const struct deviation_words explain_clock;
extern const struct deviation_words explain_laps;

/* The functions from here on are pieces for the kinds. */

/* Appends what a deviation cost, with grace and cap: "3 s late at 1 a second = 3"; or that it is
 * past a limit of the rule. */
void explain_deviation(struct textbuf *b, const struct penalty_rule *rule,
                       const struct scored_point *sp, const struct deviation_words *words);

/* Appends `sp->left`: "Left TC3 at 14:16 (arrival 13:16 + halt 1 h)", "Start 08:01".
 *   start  what the start of the day is called
 *   left   the word for leaving a control */
void explain_left(struct textbuf *b, const struct explain_context *context,
                  const struct scored_point *sp, const char *start, const char *left);

/* Appends a reading as read and, where truncation changed it, as counted: "10:42:59.9, counted as
 * 10:42:59".
 *   read     as read, ms
 *   counted  after truncation, ms */
void explain_reading(struct textbuf *b, int64_t read, int64_t counted);

/* The same for durations. */
void explain_duration(struct textbuf *b, int64_t read, int64_t counted);

/* Appends a duration that may be negative, where a clock was wrong: "-43 s". */
void explain_span(struct textbuf *b, int64_t ms);

/* Appends a penalty with no more decimals than needed. */
void explain_penalty(struct textbuf *b, int64_t penalty);

/* Appends so many units of a rule: "3 whole minutes", "no whole second", "4 begun minutes", "6
 * whole units of 0.6 s". */
void explain_units(struct textbuf *b, const struct penalty_rule *rule, int64_t units);

/* Appends what units cost on a side, fails aside: "10 a minute", "1 per 0.6 s", "100 once", or the
 * steps and what they come to, "2 up to 1 min, then 5: 1 × 2 + 2 × 5". */
void explain_charge(struct textbuf *b, const struct penalty_rule *rule, enum side side,
                    int64_t units);

/* Appends how far a time is rounded or cut: "to the second", "to 0.6 s". */
void explain_precision(struct textbuf *b, int64_t unit);

/* Name of a reading point for people: its id. */
const char *explain_point_id(const struct explain_context *context, int point);

#endif
