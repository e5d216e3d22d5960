/* SPDX-License-Identifier: MIT */
/* event_object.h - how the JSON object begins that most answers of the API are: it is about one
 * event, and most often about its results at one revision. Further members follow, and then
 * json_close_document (format/json_write.h). */
#ifndef CAIRN_EVENT_OBJECT_H
#define CAIRN_EVENT_OBJECT_H

struct request;
struct rules;
struct textbuf;

/* Opens it with the event of the request. */
void event_object_open(const struct request *r, struct textbuf *b);

/* The same with the revision of the results that who asks may see. */
void results_object_open(const struct request *r, struct textbuf *b);

/* A member of it: the days of the event with their dates. */
void event_days_json(struct textbuf *b, const struct rules *rules);

/* A member of it, "list": a tag of the entry list in force, so that a desk sees that it has another
 * one. */
void event_list_json(const struct request *r, struct textbuf *b);

#endif
