/* SPDX-License-Identifier: MIT */
/* how_scored.h - how a test is scored, in sentences of the reader's language. */
#ifndef CAIRN_HOW_SCORED_H
#define CAIRN_HOW_SCORED_H

#include "pages/page.h"

/* Appends a heading and a paragraph: what is measured, what a second or its like costs either way,
 * caps and limits, faults. */
void how_scored_write(struct page *p, const struct item *item);

#endif
