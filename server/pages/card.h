/* SPDX-License-Identifier: MIT */
/* card.h - parts of a car's card that are made in C, for its template. What they tell of is
 * borrowed until the page is written. */
#ifndef CAIRN_CARD_H
#define CAIRN_CARD_H

#include "pages/template.h"
#include "scoring/score_sheet.h"
#include "scoring/scoring.h"

struct chart_bar;
struct page;

/* Which car's. */
struct card {
    const struct scores *s;
    const struct score_sheet *sheet;
    int car;
    struct chart_bar *bars; /* of the picture */
    int bar_count;
};

/* What every visible test cost, as a picture; none where none is driven yet. */
struct markup card_picture(struct page *p, struct card *card);

/* The picture's twin: every test with what was early, what was not, and what became of it.
 *   of  the card */
void card_put_tests(struct page *p, const void *of);

/* A table of each day: every point, with the sentence behind its figure.
 *   of  the card */
void card_put_days(struct page *p, const void *of);

/* How the total came about, step by step.
 *   of  the card */
void card_put_total(struct page *p, const void *of);

/* A table of decisions and corrections; none where there is none. */
struct markup card_rulings_table(struct page *p, const struct card *card);

#endif
