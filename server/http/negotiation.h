/* SPDX-License-Identifier: MIT */
/* negotiation.h - what headers of a request say of the answer that is wanted. Pure functions. */
#ifndef CAIRN_NEGOTIATION_H
#define CAIRN_NEGOTIATION_H

#include <stdbool.h>

/* True where the value of an Accept-Encoding takes gzip: where "gzip" (or "x-gzip", or "*") is
 * named, in any case and not with a weight of zero. NULL takes nothing. RFC 9110, 12.5.3. */
bool accepts_gzip(const char *value);

/* True where the list of an If-None-Match holds the tag, weak or strong, or is "*". RFC 9110,
 * 13.1.2.
 *   etag  with its quotes; "" is in no list */
bool names_etag(const char *list, const char *etag);

#endif
