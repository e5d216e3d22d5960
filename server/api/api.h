/* SPDX-License-Identifier: MIT */
/* api.h - the reading routes that answer JSON, CSV or plain text. See http.h. */
#ifndef CAIRN_API_H
#define CAIRN_API_H

#include "http/http.h"

/* Each writes its body and returns the HTTP status. The first three know no event. */
unsigned api_health(struct request *r, struct textbuf *b);
unsigned api_metrics(struct request *r, struct textbuf *b);
unsigned api_openapi(struct request *r, struct textbuf *b);
/* The list of events, one event, its tables. */
unsigned api_events(struct request *r, struct textbuf *b);
unsigned api_event(struct request *r, struct textbuf *b);
unsigned api_standings(struct request *r, struct textbuf *b);
unsigned api_card(struct request *r, struct textbuf *b);
unsigned api_test(struct request *r, struct textbuf *b);
unsigned api_starts(struct request *r, struct textbuf *b);

/* What the pages ask for in the same words. Each returns 0 or the status of an error described. */

/* The item of an `after` parameter; -1 where there is none. */
unsigned request_after(struct request *r, int *after);

/* The car, visible test or day that the address names. */
unsigned request_car(struct request *r, int *car);
unsigned request_test(struct request *r, int *item);
unsigned request_day(struct request *r, int *day);

/* JSON or CSV, as the parameter `format` says; sets the media type of CSV. */
unsigned request_format(struct request *r, bool *csv);

/* The event file, for what no snapshot holds; the caller closes it. Returns 0, or the status of an
 * error described. */
unsigned request_store(struct request *r, struct store **out);

/* A grouping and the one class asked for; class -1 for all. */
unsigned request_grouping(struct request *r, enum standings_by *by, int *class_index);

/* Keeps of the groups of a table the one of that index. */
void standings_keep(struct standings *st, int index);

/* Cars that start a day, in the order of their times. Returns ERR_OK or ERR_NOMEM; the caller
 * frees the list. */
int starts_of_day(const struct event *event, int day, int **cars, int *count);

#endif
