/* SPDX-License-Identifier: MIT */
/* api_status.h - how the machine is doing, for an event's organiser. See http.h. */
#ifndef CAIRN_API_STATUS_H
#define CAIRN_API_STATUS_H

#include "http/http.h"

/* GET …/status: a line a thing, each with a word whether it is fine. What is told of the machine is
 * of the whole machine, in sums; of events only the organiser's own is told, and no path. */
unsigned api_status(struct request *r, struct textbuf *b);

#endif
