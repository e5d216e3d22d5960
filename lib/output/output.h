/* SPDX-License-Identifier: MIT */
/* output.h - standings and cards as JSON, CSV and text. Shapes: the contract, section 5.
 * All functions append to a buffer, which is marked as failed where memory is out. Safe for any
 * number of threads at once. */
#ifndef CAIRN_OUTPUT_H
#define CAIRN_OUTPUT_H

#include "base/textbuf.h"
#include "scoring/standings.h"

/* What is written before the rows. */
struct output_head {
    const char *status; /* "live", "provisional" or "final" */
    int64_t revision;   /* 0 where there is none */
    const char *after;  /* the point asked for, NULL */
};

/* Standings; ends with a line end. */
void output_standings_json(struct textbuf *b, const struct standings *standings,
                           const struct output_head *head);
void output_standings_csv(struct textbuf *b, const struct standings *standings,
                          const struct output_head *head);
void output_standings_text(struct textbuf *b, const struct standings *standings,
                           const struct output_head *head);

/* One row of the standings as a JSON object, without line end. */
void output_row_json(struct textbuf *b, const struct scores *scores, const struct standing *row,
                     bool placed);

/* The members of such a row alone, for an object that the caller has opened. */
void output_row_members(struct textbuf *b, const struct scores *scores, const struct standing *row,
                        bool placed);

/* One scored point of a sheet as on the card, a JSON object without line end.
 *   sheet   scored, of an event that `scores` are of
 *   scored  place of the point among the scored ones */
void output_point_json(struct textbuf *b, const struct scores *scores,
                       const struct score_sheet *sheet, int scored);

/* One car's card; its sheet is worked out for it.
 *   car  place in the entry list */
void output_card_json(struct textbuf *b, const struct scores *scores, int car,
                      const struct output_head *head);
void output_card_csv(struct textbuf *b, const struct scores *scores, int car,
                     const struct output_head *head);
void output_card_text(struct textbuf *b, const struct scores *scores, int car,
                      const struct output_head *head);

/* A car's row in the overall standings, also where it is not placed. */
struct standing output_overall_row(const struct scores *scores, int car);

/* A part of a car's total. */
struct total_step {
    /* id of a test, or "coefficient", "controls", "absence", "day_cap", "decision" */
    const char *of;
    const char *why;
    int64_t penalty; /* thousandths */
    int fails;
    bool to_come; /* nothing is known of it yet; `penalty` is 0 and means nothing */
};

typedef void (*emit_step)(void *context, const struct total_step *step);

/* The steps behind a car's total: tests with caps, drops and coefficient; the coefficient on the
 * total (behind controls and absence where it multiplies them); controls; absence by day; what
 * days cost too much; decisions. They add up to the total, and are the same in JSON, CSV and text.
 *   sheet    of scores_sheet, of that car
 *   emit     called for each step, whose texts are valid during the call
 *   context  passed on to it
 * Returns: ERR_OK; ERR_NOMEM where a text is not whole. */
int output_total_steps(const struct scores *scores, const struct score_sheet *sheet, int car,
                       emit_step emit, void *context);

/* Appends the id of a group of standings: that of its class ("C-2"), category, group of cars or
 * test ("R1"); the number of its day; nothing overall and for teams.
 *   index  as in struct standings_group */
void output_group_id(struct textbuf *b, const struct rules *rules, enum standings_by by, int index);

/* Appends its name for people: that of its class ("Vintage"), category, group of cars or test
 * ("Hollin Moor"); "Day 2"; "Overall" overall and for teams. */
void output_group_name(struct textbuf *b, const struct rules *rules, enum standings_by by,
                       int index);

#endif
