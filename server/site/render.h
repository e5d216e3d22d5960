/* SPDX-License-Identifier: MIT */
/* render.h - what an address answers, without a connection: for a static site, and for a paper from
 * the command line. */
#ifndef CAIRN_RENDER_H
#define CAIRN_RENDER_H

#include "http/server.h"

/* What an address answers to the public.
 *   snapshot    of the event, held by the caller: all that is asked of one is of one revision
 *   static_page how links of pages are written, see static_page.h; NULL for links to addresses
 *   address     a path and perhaps a query, as in a request; not NULL
 *   b           gets the body
 *   media_type  gets its media type, a text that lives for ever
 * Returns: the status; 404 too where the address is no public read. Any thread that may hold a
 * snapshot. */
unsigned render_address(struct server *server, struct snapshot *snapshot,
                        const struct static_page *static_page, const char *address,
                        struct textbuf *b, const char **media_type);

/* What a paper's address answers.
 *   role   ROLE_PUBLIC or ROLE_ORGANISER: whose event it shows
 *   base   "https://HOST" before the addresses on it; NULL for none
 *   desk_key  on a desk's sheet, in the link that opens the desk; NULL for none
 *   b      gets the PDF; where the status is not 200, what is wrong, in words
 * Returns: the status. */
unsigned render_paper(struct server *server, const char *address, enum role role, const char *base,
                      const char *desk_key, struct textbuf *b);

#endif
