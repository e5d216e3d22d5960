/* SPDX-License-Identifier: MIT */
/* event_object.h - the JSON object that most answers of the API are: about one event, as it stands
 * at one revision. */
#ifndef CAIRN_EVENT_OBJECT_H
#define CAIRN_EVENT_OBJECT_H

struct request;
struct textbuf;

/* Opens it, with the event of the request and the revision that who asks may see; further members
 * follow (format/json_write.h). */
void event_object_open(const struct request *r, struct textbuf *b);

/* Closes the object that is the whole answer, and ends the line. */
void event_object_close(struct textbuf *b);

#endif
