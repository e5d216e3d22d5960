/* SPDX-License-Identifier: MIT */
/* decision_row.h - a decision that adds penalty or fails to an item, as a row of its own on the
 * card, behind the item's last point. Safe for any number of threads at once. */
#ifndef CAIRN_DECISION_ROW_H
#define CAIRN_DECISION_ROW_H

#include "scoring/scoring.h"

struct textbuf;

/* What such a row shows. */
struct decision_row {
    const struct decision *decision;
    const struct decision *aside; /* the ruling for which it counts for nothing, NULL */
    const struct item *item;      /* with the car's own values */
    const char *point;            /* the id that it names */
    const char *kind;             /* "penalty" or "fails" */
    int64_t penalty;              /* what it adds, thousandths */
    int fails;
    enum state state; /* scored, dropped with its test, or that of what sets it aside */
};

/* The next row behind a scored point of a car's sheet, of scores_sheet.
 *   scored  place of the point among the scored ones
 *   at      0 before the first one; where the search goes on
 * Returns: false where there is none. */
bool decision_row_next(const struct scores *scores, const struct score_sheet *sheet, int scored,
                       int *at, struct decision_row *out);

/* Appends its sentence. */
void decision_row_explain(struct textbuf *b, const struct decision_row *row);

#endif
