/* SPDX-License-Identifier: MIT */
/* static_page.h - a page that becomes a file of a static site instead of an answer: where its links
 * lead, and where the site will stand. See page_attribute in page.h, and static_site.h. */
#ifndef CAIRN_STATIC_PAGE_H
#define CAIRN_STATIC_PAGE_H

#include <stdbool.h>

struct textbuf;

struct static_page {
    void *context;    /* for `find` */
    const char *file; /* of this page, from the site's root: "SLUG/cars/22/index.html" */
    const char *base; /* the site's own address, without a slash at its end; NULL: not known */
    /* The file that stands for an address of the server.
     *   address  path and query, not escaped
     *   file     gets the path from the site's root
     * Returns: false where the site has none. */
    bool (*find)(void *context, const char *address, struct textbuf *file);
};

#endif
