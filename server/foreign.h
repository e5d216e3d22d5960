/* SPDX-License-Identifier: MIT */
/* foreign.h - whether a form was sent by one of this server's own pages. See http.h. */
#ifndef CAIRN_FOREIGN_H
#define CAIRN_FOREIGN_H

#include "http.h"

/* True where the request came from a page of another site: a browser says so.
 * Pages whose forms are looked at so are to let browsers tell: `sends` of struct page_frame. */
bool request_is_foreign(const struct request *r);

#endif
