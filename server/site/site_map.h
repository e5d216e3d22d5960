/* SPDX-License-Identifier: MIT */
/* site_map.h - which file of a static site stands for an address of the server.
 * The path stays as it is, with an index.html in it; each parameter that makes a difference is one
 * more folder: /SLUG/?by=class&lang=de is SLUG/by-class/lang-de/index.html, and
 * /api/v1/events/SLUG/standings?by=day&format=csv is api/v1/events/SLUG/standings/by-day.csv.
 * What goes without saying (overall, English) is no folder. Any thread. */
#ifndef CAIRN_SITE_MAP_H
#define CAIRN_SITE_MAP_H

#include <stdbool.h>

struct textbuf;

/* The file of an address.
 *   slug     of the site's one event
 *   has_qr   the site knows where it will stand, and has QR codes of the pages worth pinning up
 *   address  path and query, not escaped, parameters in any order, no fragment
 *   file     gets the path, without a slash at its beginning
 *   asked    gets the address to ask the server for: parameters that make no difference left out
 * Returns: false, with both empty, where the site has no such file. */
bool site_map_file(const char *slug, bool has_qr, const char *address, struct textbuf *file,
                   struct textbuf *asked);

#endif
