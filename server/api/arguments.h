/* SPDX-License-Identifier: MIT */
/* arguments.h - what the address and the query of a request name, looked up in its event, and the
 * scores that are for who asks. For handlers of the API and of pages; what is made for them here
 * belongs to the request (request_memory.h). */
#ifndef CAIRN_ARGUMENTS_H
#define CAIRN_ARGUMENTS_H

#include "http/request.h"
#include "scoring/standings.h"

/* Each of these returns 0, or the status of an error described. */

/* The item of the parameter `after`; -1 where there is none. */
unsigned request_after(struct request *r, int *after);

/* The car, visible test or day that the address names second, by its place. */
unsigned request_car(struct request *r, int *car);
unsigned request_test(struct request *r, int *item);
unsigned request_day(struct request *r, int *day);

/* The reading point of the parameter `point`, which the key of who asks must hold, by its place
 * among the rules' points. */
unsigned request_own_point(struct request *r, int *point);

/* JSON or CSV, as the parameter `format` says; sets the media type of CSV. */
unsigned request_format(struct request *r, bool *csv);

/* The grouping of the parameters `by` and `class`.
 *   class_index  gets the class that is asked for; -1 for all groups */
unsigned request_grouping(struct request *r, enum standings_by *by, int *class_index);

/* The event file, for what no snapshot holds. */
unsigned request_store(struct request *r, struct store **out);

/* True where who asks may not see an item of the route yet. */
bool request_hides(const struct request *r, int item);

/* True where the key of who asks holds a reading point, by its place among the rules' points: an
 * organiser's holds every one. */
bool request_covers(const struct request *r, int point);

/* What may be shown to who asks: the public's results or the office's, or scores of its own. */
struct shown_scores {
    const struct view *view;
    const struct scores *scores;
};

/* The scores to show.
 *   after  the item after which the event stands; -1 for everything so far
 * Returns: ERR_OK; ERR_NOMEM. */
int request_scores(struct request *r, int after, struct shown_scores *out);

/* The scores of another event, such as one by rules that are tried. Returns ERR_OK or ERR_NOMEM. */
int request_scores_of(struct request *r, const struct event *event, struct view_request wanted,
                      struct shown_scores *out);

/* A table of scores.
 *   group  index of the one group that is wanted; -1 for all
 * Returns: ERR_OK; ERR_UNKNOWN where the event has no such groups; ERR_NOMEM. */
int request_standings(struct request *r, const struct scores *scores, enum standings_by by,
                      int group, struct standings **out);

/* Describes why there is no table. Returns the status. */
unsigned request_no_standings(struct request *r, enum standings_by by, int err);

/* The cars that start a day, in the order of their times. Returns ERR_OK or ERR_NOMEM. */
int request_starters(struct request *r, int day, int **cars, int *count);

#endif
