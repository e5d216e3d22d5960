/* SPDX-License-Identifier: MIT */
/* view.h - from where an event is seen: live or with all closed, with or without what is
 * hidden, up to which point. Source: the contract, "Missing readings", "--after" and "What the
 * public sees". Immutable once made, and then safe for any thread; valid until decisions are added
 * to its event. */
#ifndef CAIRN_VIEW_H
#define CAIRN_VIEW_H

#include <stdbool.h>

#include "event/event.h"

/* What the caller asks for. */
struct view_request {
    bool live;        /* else every point is closed */
    bool public_view; /* items not yet revealed are left out */
    int after;        /* the last item that counts, -1 for all */
};

struct view {
    struct view_request request;
    bool *visible;   /* by item: in range, and not hidden */
    bool *hidden;    /* by item */
    bool *open;      /* by reading point */
    bool all_closed; /* every scored point of the event, hidden items aside */
    int last_day;    /* the last day in range, from 0 */
    bool is_final;   /* the final classification is posted: set by the owner before others read */
};

/* Makes a view. Returns ERR_OK or ERR_NOMEM. Owner: the caller, see view_free. */
int view_new(const struct event *event, struct view_request request, struct view **out);

/* Frees a view; NULL is accepted. */
void view_free(struct view *view);

/* True where this view may show something of a reading: its point is not hidden and it does not
 * stand aside, or that holds of the reading that it replaces. The model's log must have it. */
bool view_shows_reading(const struct view *view, const struct model *model,
                        const struct reading *reading);

/* The same for a decision, hidden items staying hidden; a revoke shows where what it revokes
 * does. */
bool view_shows_decision(const struct view *view, const struct model *model,
                         const struct decision *decision);

/* The last time control on a car's route that is not hidden, -1 where there is none; `standing`:
 * the last of them that is not cancelled either. */
int view_last_control(const struct view *view, const struct event *event, int car, bool standing);

/* True where a scored point is open: its reading point is or, at a test of several attempts, the
 * finish of any of them.
 *   scored  its place in rules->scored */
bool view_scored_open(const struct view *view, const struct rules *rules, int scored);

/* "live"; "provisional" once every point of the event is closed; "final" where it is posted. */
const char *view_status(const struct view *view);

/* The item that holds a point (or is named) by this id, for --after: -1 where there is none. */
int view_item_of(const struct rules *rules, const char *id);

#endif
