/* SPDX-License-Identifier: MIT */
#include "http/cross_site.h"

#include <string.h>

/* Of a host as it is written, without its port, which a proxy may drop. */
static size_t name_len(const char *host) {
    return *host == '[' ? strcspn(host, "]") : strcspn(host, ":");
}

/* Browsers tell over TLS whose page sent a form, and without it at least from where; what is no
 * browser tells nothing, and has no page that could be misled. */
bool request_is_cross_site(const struct request *r) {
    const char *site = request_header(r, "Sec-Fetch-Site");
    const char *origin = request_header(r, MHD_HTTP_HEADER_ORIGIN);
    const char *host = request_header(r, MHD_HTTP_HEADER_HOST);
    if (site != NULL)
        return strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0;
    if (origin == NULL)
        return false;
    const char *name = strstr(origin, "://");
    size_t len = name == NULL ? 0 : name_len(name + 3);
    return len == 0 || host == NULL || name_len(host) != len ||
           strncasecmp(name + 3, host, len) != 0;
}
