/* SPDX-License-Identifier: MIT */
/* board_form.h - what a reader of the standings may choose: the grouping, a car to look for, an
 * era, the test after which they stand, and how the page keeps itself up to date. */
#ifndef CAIRN_BOARD_FORM_H
#define CAIRN_BOARD_FORM_H

#include "pages/board_view.h"
#include "pages/page.h"

/* Appends links to the groupings that the event has. */
void board_form_write_groupings(struct page *p, enum standings_by now);

/* Appends the form, which keeps the choices made already; in a copy of the site, where no server
 * reads a form, what a script or links can do in its place. */
void board_form_write(struct page *p, const struct board_view *board);

#endif
