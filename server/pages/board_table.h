/* SPDX-License-Identifier: MIT */
/* board_table.h - the tables of the standings, and the figures that keep the board's rows up to
 * date: what each column says of a car stands here once for both. */
#ifndef CAIRN_BOARD_TABLE_H
#define CAIRN_BOARD_TABLE_H

#include "pages/board_view.h"
#include "pages/page.h"
#include "pages/table.h"

/* True for the ranks of a whole event, whose rows tell of changes and keep themselves up to date;
 * false for days, tests and teams. */
bool board_table_is_ranking(enum standings_by by);

/* The key of the word for what teams are in this event: "teams" or "clubs". */
const char *board_table_teams_key(const struct page *p);

/* How many cars of all groups fit what the reader looks for. */
int board_table_count(const struct page *p, const struct standings *st);

/* Appends the tables of a group: the placed, those that are still waited for, those without a
 * place; of each the cars that fit what the reader looks for.
 *   caption  of the first */
void board_table_write(struct page *p, const struct board_view *board,
                       const struct standings_group *g, struct table_caption caption);

/* Appends the table of teams. */
void board_table_write_teams(struct page *p, const struct standings *st);

/* Appends the figures of a group as members of an open JSON object: a list for each column, one
 * value for each placed car, and lists of the others. */
void board_table_tell(struct page *p, const struct board_view *board,
                      const struct standings_group *g);

#endif
