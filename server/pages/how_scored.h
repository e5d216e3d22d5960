/* SPDX-License-Identifier: MIT */
/* how_scored.h - how a test or control is scored, in sentences of the reader's language. */
#ifndef CAIRN_HOW_SCORED_H
#define CAIRN_HOW_SCORED_H

#include "pages/page.h"

/* Appends a heading and a paragraph: what is measured, what a second or its like costs either way,
 * caps and limits, faults. */
void how_scored_write(struct page *p, const struct item *item);

/* Appends the same on each control that the page's view shows and that is scored by more than
 * rates, a cap and a price for missing it, under a heading for all; nothing where there is none. */
void how_controls_write(struct page *p);

#endif
