/* SPDX-License-Identifier: MIT */
/* static_site.h - the public pages and figures of an event as files, for any web host.
 * Each file holds what the server would answer to somebody without a key, with links that lead from
 * file to file; what cannot be a file (uploads, streams, forms, the desk, the office) has no link.
 * See site_map.h for names and site_folder.h for how files come and go. */
#ifndef CAIRN_STATIC_SITE_H
#define CAIRN_STATIC_SITE_H

#include "site/site_folder.h"

struct server;

/* Writes the site, all of it from one revision.
 *   server  see server_open
 *   slug    of the event
 *   base    the site's own address, without a slash at its end, for what must name it in full (QR
 *           codes, the canonical link); NULL leaves those out
 *   folder  where the site goes; made where it is not there
 *   why     gets what is wrong
 * Returns: ERR_OK; ERR_UNKNOWN where there is no such event; ERR_INPUT where the folder holds the
 * site of another one; ERR_BUSY; ERR_IO; ERR_NOMEM. */
int static_site_write(struct server *server, const char *slug, const char *base, const char *folder,
                      struct site_count *count, struct textbuf *why);

#endif
