/* SPDX-License-Identifier: MIT */
/* since.h - what a board holds for a script that tells what has changed since the reader's
 * last look: a place for the words, and beside the rows the facts that they do not show. All of it
 * is read off what the page itself may show, so that nothing hidden is told. */
#ifndef CAIRN_SINCE_H
#define CAIRN_SINCE_H

#include "pages/board_view.h"
#include "pages/page.h"

/* Appends the place where changes are told, with its words; without a script it is not seen. */
void since_write_place(struct page *p);

/* Appends attributes, each with a blank before it: how many tests nearly all cars have done and the
 * last of them; the items and points that count for nobody, where there are any. */
void since_write_attributes(struct page *p, const struct board_view *board);

/* Appends the same as members of an open JSON object. */
void since_tell(struct page *p, const struct board_view *board);

#endif
