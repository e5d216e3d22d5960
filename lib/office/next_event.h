/* SPDX-License-Identifier: MIT */
/* next_event.h - a new event made from an older one: classes, scoring, route and awards stay as
 * they are; the name, the slug and the dates are new. */
#ifndef CAIRN_NEXT_EVENT_H
#define CAIRN_NEXT_EVENT_H

#include <stddef.h>

struct problems;
struct textbuf;

/* What is new. Texts are borrowed. */
struct next_event {
    const char *name;      /* NULL: as before, with the new year in place of the old one */
    const char *slug;      /* NULL: the same */
    const char *first_day; /* YYYY-MM-DD; NULL: the same weekday a year on, 52 weeks later. Every
                              day moves by as many days as the first */
    const char *timezone;  /* NULL: as before */
};

/* Writes the new event.json.
 *   text, len  the old one, borrowed
 *   what       what is new
 *   problems   gets what is wrong with the old one or with `what`
 *   out        gets the new one; what is in it when this fails has no meaning
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. Where the old slug holds no year, `slug` must be given:
 * `cairn import` takes two events of one slug for one. */
int next_event_write(const char *text, size_t len, const struct next_event *what,
                     struct problems *problems, struct textbuf *out);

#endif
