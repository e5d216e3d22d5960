/* SPDX-License-Identifier: MIT */
/* output.h - standings and cards as JSON, CSV and text.
 * Shapes: the contract, section 5. JSON is written plainly into a buffer (a tree of objects first
 * would cost thirty times the time for the same bytes); every text is escaped in one place. */
#ifndef CAIRN_OUTPUT_H
#define CAIRN_OUTPUT_H

#include "standings.h"
#include "textbuf.h"

/* What stands around the rows. */
struct output_head {
    const char *status; /* "live", "provisional" or "final" */
    int64_t revision;   /* 0 where there is none */
    const char *after;  /* the point asked for, NULL */
};

/* A JSON string with quotes; control characters and "<", ">", "&" are escaped too, so that the
 * text is safe inside a page. */
void json_write_text(struct textbuf *b, const char *text);

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

/* One scored point of a sheet as on the card, a JSON object without line end.
 *   sheet   scored, of an event that `scores` are of
 *   scored  place of the point among the scored ones */
void output_point_json(struct textbuf *b, const struct scores *scores, const struct sheet *sheet,
                       int scored);

/* One car's card; its sheet is worked out for it. Safe for any number of threads at once.
 *   car  place in the entry list */
void output_card_json(struct textbuf *b, const struct scores *scores, int car,
                      const struct output_head *head);
void output_card_csv(struct textbuf *b, const struct scores *scores, int car,
                     const struct output_head *head);
void output_card_text(struct textbuf *b, const struct scores *scores, int car,
                      const struct output_head *head);

/* A car's row in the overall standings, also where it is not placed. */
struct standing output_overall_row(const struct scores *scores, int car);

/* The steps behind a car's total, a line each: tests with caps, drops and coefficient; absence by
 * day; decisions. Written by the text and JSON cards alike.
 *   emit     called for each step with its texts and amount (thousandths)
 *   context  handed to it
 * Returns: ERR_OK; ERR_NOMEM where a text is not whole. */
int output_total_steps(const struct scores *scores, const struct sheet *sheet, int car,
                       void (*emit)(void *context, const char *what, const char *why,
                                    int64_t amount, int fails),
                       void *context);

/* Headings of a group for people: "Class C, Vintage"; "Day 2"; "R1 Hollin Moor". */
void output_group_name(struct textbuf *b, const struct standings *standings,
                       const struct standings_group *group);

#endif
