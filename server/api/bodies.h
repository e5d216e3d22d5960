/* SPDX-License-Identifier: MIT */
/* bodies.h - the body of a request taken apart into rows, for handlers of the API. */
#ifndef CAIRN_BODIES_H
#define CAIRN_BODIES_H

#include "format/json_read.h"
#include "http/request.h"
#include "live/write.h"

/* Rows of readings, decisions or the like, as JSON, NDJSON or CSV; given up when nobody waits any
 * more.
 *   names     of the fields, `count` of them
 *   required  how many of the first names the header of a CSV must have
 *   out       the caller's to clear, also after an error
 * Returns 0, or the status of an error described. */
unsigned request_rows(struct request *r, const char *const *names, size_t count, size_t required,
                      struct upload *out);

/* One JSON object, on as many lines as it likes.
 *   names   of its members, `count` of them; others are refused, one not given is ""
 *   fields  gets the members' texts, in that order; they end with the request
 * Returns 0, or the status of an error described. */
unsigned request_object(struct request *r, const char *const *names, size_t count,
                        const char *const **fields);

/* One JSON object whose one member is true or not: {"revoke": true}.
 *   set  gets whether it is
 * Returns 0, or the status of an error described. */
unsigned request_flag(struct request *r, const char *name, bool *set);

/* The body as a JSON value.
 *   name    what messages call it
 *   reader  gets a reader of it, whose problems and texts end with the request, as the value does
 * Returns: ERR_OK; ERR_INPUT where it is none, which is among the problems; ERR_NOMEM. */
int request_json(struct request *r, const char *name, struct json_reader *reader, json_t **root);

/* Has a JSON value end with the request; NULL is accepted and ignored.
 * Returns: false when memory is out; then it has been freed already. */
bool request_owns_json(struct request *r, json_t *value);

/* Problems that end with the request. NULL when memory is out. */
struct problems *request_problems(struct request *r);

/* An empty upload that ends with the request. NULL when memory is out. */
struct upload *request_upload(struct request *r);

/* The body as it was sent, for a write that keeps it. */
struct write_body request_body(const struct request *r);

#endif
