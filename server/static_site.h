/* SPDX-License-Identifier: MIT */
/* static_site.h - the public pages and figures of an event as files, for any web host.
 * Each file holds what the server would answer, with links that lead from file to file. What cannot
 * be a file (uploads, streams, the desk, the office) has no link. */
#ifndef CAIRN_STATIC_SITE_H
#define CAIRN_STATIC_SITE_H

#include <stddef.h>
#include <stdint.h>

struct server;
struct textbuf;

/* What a writing came to. */
struct static_count {
    int64_t revision; /* the public one that was written */
    size_t files;     /* in all */
    size_t written;   /* that were not there with the same bytes */
    size_t removed;   /* that the manifest before named and this one does not */
};

/* Writes the site. Files that are there with the same bytes are left alone; the others are written
 * beside and moved into place; the manifest comes last, and after it what is no longer part of the
 * site is removed. Nothing that no manifest has named is ever touched.
 *   server  see server_open
 *   slug    of the event
 *   folder  where the site goes; made where it is not there
 *   why     gets what is wrong
 * Returns: ERR_OK; ERR_UNKNOWN where there is no such event; ERR_IO; ERR_NOMEM. */
int static_site_write(struct server *server, const char *slug, const char *folder,
                      struct static_count *count, struct textbuf *why);

/* The file of an address within a site; "" where it has none. Links are looked up by it.
 *   address  path and query, parameters in any order
 *   file     gets the path, without a slash at its beginning
 *   asked    gets the address to ask for: parameters that make no difference left out */
void static_site_file(const char *slug, const char *address, struct textbuf *file,
                      struct textbuf *asked);

#endif
