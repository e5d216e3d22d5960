/* SPDX-License-Identifier: MIT */
/* api_office.h - what the office reads: the documents and logs as they are in force, the control
 * room, the cars on the road. Organisers only. See http.h. */
#ifndef CAIRN_API_OFFICE_H
#define CAIRN_API_OFFICE_H

#include "http/http.h"

/* The documents, byte by byte as they were sent. Their tags go into If-Match of a PUT. */
unsigned api_rules(struct request *r, struct textbuf *b);
unsigned api_entries(struct request *r, struct textbuf *b);

/* Every decision in the order of arrival, and whether it holds. The tag goes into If-Match of a
 * POST. */
unsigned api_decisions(struct request *r, struct textbuf *b);

/* Readings in the order of arrival, and whether each counts; of one point or one car where the
 * parameters say so. */
unsigned api_readings(struct request *r, struct textbuf *b);

/* Every point with how many cars are expected, seen, missing and awaited there. */
unsigned api_points(struct request *r, struct textbuf *b);

/* Every car with where it was last seen and where it is due next. No safety system. */
unsigned api_road(struct request *r, struct textbuf *b);

#endif
