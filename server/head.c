/* SPDX-License-Identifier: MIT */
#include "head.h"

#include <string.h>
#include <strings.h>

#include "http_library.h"

static enum MHD_Result count_hosts(void *context, enum MHD_ValueKind kind, const char *name,
                                   const char *value) {
    int *count = context;
    (void)kind;
    if (strcasecmp(name, MHD_HTTP_HEADER_HOST) == 0)
        *count += value != NULL && *value != '\0' ? 1 : 2;
    return MHD_YES;
}

/* RFC 9112, 3.2: one Host, and of HTTP/1.0 at most one. */
static bool has_bad_host(const struct request *r) {
    int count = 0;
    (void)MHD_get_connection_values(r->connection, MHD_HEADER_KIND, count_hosts, &count);
    return count > 1 || (count == 0 && strcmp(r->version, MHD_HTTP_VERSION_1_0) != 0);
}

static enum MHD_Result count_lengths(void *context, enum MHD_ValueKind kind, const char *name,
                                     const char *value) {
    int *count = context;
    (void)kind;
    (void)value;
    if (strcasecmp(name, MHD_HTTP_HEADER_CONTENT_LENGTH) == 0 ||
        strcasecmp(name, MHD_HTTP_HEADER_TRANSFER_ENCODING) == 0)
        ++*count;
    return MHD_YES;
}

/* Two lengths, or a length and chunks: a proxy may take the other one for true, and what is body
 * to it would be a request to us. */
static bool has_bad_framing(const struct request *r) {
    int count = 0;
    (void)MHD_get_connection_values(r->connection, MHD_HEADER_KIND, count_lengths, &count);
    return count > 1;
}

unsigned head_refusal(struct request *r) {
    if (has_bad_framing(r))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "The length of the body is given in two ways.");
    /* A coding that the library does not know it waits for. RFC 9112, 6.1. */
    const char *coding = request_header(r, MHD_HTTP_HEADER_TRANSFER_ENCODING);
    if (coding != NULL && strcasecmp(coding, "chunked") != 0)
        return request_fail(r, MHD_HTTP_NOT_IMPLEMENTED,
                            "A body may be sent in chunks, and in no other coding.");
    if (has_bad_host(r))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "The request must name its host once.");
    return 0;
}
