/* SPDX-License-Identifier: MIT */
/* board_view.h - the standings as the board shows them: like compared with like.
 * While an event runs, cars are at different places of the route. The board's own view is therefore
 * the standings after the last test that nearly all cars still in the event have done; the live
 * standings are a choice. */
#ifndef CAIRN_BOARD_VIEW_H
#define CAIRN_BOARD_VIEW_H

#include "api/arguments.h"

struct board_view {
    struct shown_scores s;
    struct standings *st;
    int after;    /* item that the standings stand after, -1: everything so far */
    bool settled; /* it was chosen by the board, not by the reader */
    int item;     /* the last test that nearly all have done, -1 none or all over */
    int done;     /* cars still in the event that are not waited for up to `after` */
    int running;  /* cars still in the event */
    int before;   /* test whose standings a change is told from, -1 none */
    int *was;     /* position after that test in this grouping, 0 none: see board_view_change */
};

/* Makes the standings that a request for the board asks for; its parameters are by, class, after
 * and view ("live" for everything so far).
 * Returns: 0, and what the board holds ends with the request; else the status of an error
 * described in it. */
unsigned board_view_open(struct request *r, struct board_view *board);

/* Positions won since the view before; 0 too where it had none.
 *   group  in which the row stands: a car may stand in several */
int board_view_change(const struct board_view *board, const struct standings_group *group,
                      const struct standing *row);

#endif
