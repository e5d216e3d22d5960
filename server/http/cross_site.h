/* SPDX-License-Identifier: MIT */
/* cross_site.h - whether a form was sent by one of this server's own pages. */
#ifndef CAIRN_CROSS_SITE_H
#define CAIRN_CROSS_SITE_H

#include "http/request.h"

/* True where the request came from a page of another site: a browser says so.
 * Pages whose forms are looked at so are to let browsers tell: `sends` of struct page_frame. */
bool request_is_cross_site(const struct request *r);

#endif
