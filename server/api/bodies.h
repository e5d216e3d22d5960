/* SPDX-License-Identifier: MIT */
/* bodies.h - the body of a request taken apart into rows, for handlers of the API. */
#ifndef CAIRN_BODIES_H
#define CAIRN_BODIES_H

#include "http/request.h"
#include "live/upload.h"

/* Both return 0, or the status of an error described. `out` is the caller's to clear, also after an
 * error. */

/* Rows of readings, decisions or the like, as JSON, NDJSON or CSV; given up when nobody waits any
 * more.
 *   names     of the fields, `count` of them
 *   required  how many of the first names the header of a CSV must have */
unsigned request_rows(struct request *r, const char *const *names, size_t count, size_t required,
                      struct upload *out);

/* One JSON object, on as many lines as it likes.
 *   names  of its members, `count` of them; others are refused, one not given is ""
 *   shape  how it should be, for who sent another
 *   out    gets it as its one row */
unsigned request_object(struct request *r, const char *const *names, size_t count,
                        const char *shape, struct upload *out);

/* An empty upload that ends with the request. NULL when memory is out. */
struct upload *request_upload(struct request *r);

#endif
