/* SPDX-License-Identifier: MIT */
#include "http/request_head.h"

#include <string.h>
#include <strings.h>

#include "system/http_library.h"

static enum MHD_Result count_hosts(void *context, enum MHD_ValueKind kind, const char *name,
                                   const char *value) {
    int *count = context;
    (void)kind;
    if (strcasecmp(name, MHD_HTTP_HEADER_HOST) == 0)
        *count += value != NULL && *value != '\0' ? 1 : 2;
    return MHD_YES;
}

/* RFC 9112, 3.2: one Host, and of HTTP/1.0 at most one. */
static bool has_bad_host(const struct exchange *x) {
    int count = 0;
    (void)MHD_get_connection_values(x->request.connection, MHD_HEADER_KIND, count_hosts, &count);
    return count > 1 || (count == 0 && strcmp(x->version, MHD_HTTP_VERSION_1_0) != 0);
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

/* RFC 9110, 5.6.2. */
static bool is_token(const char *name) {
    static const char others[] = "!#$%&'*+-.^_`|~";
    for (const char *p = name; *p != '\0'; p++) {
        bool letter = (*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z');
        if (!letter && !(*p >= '0' && *p <= '9') && strchr(others, *p) == NULL)
            return false;
    }
    return *name != '\0';
}

static enum MHD_Result look_at_field(void *context, enum MHD_ValueKind kind, const char *name,
                                     const char *value) {
    bool *bad = context;
    (void)kind;
    *bad = *bad || !is_token(name);
    for (const char *p = value; p != NULL && *p != '\0'; p++)
        *bad = *bad || ((unsigned char)*p < 0x20 && *p != '\t') || *p == 0x7f;
    return MHD_YES;
}

/* A blank before the colon makes "Content-Length " another header to us than to a proxy; a lone
 * carriage return may end a line to one of the two. RFC 9112, 5.1 and 2.2. */
static bool has_bad_field(const struct request *r) {
    bool bad = false;
    (void)MHD_get_connection_values(r->connection, MHD_HEADER_KIND, look_at_field, &bad);
    return bad;
}

unsigned request_head_refusal(struct exchange *x) {
    struct request *r = &x->request;
    if (has_bad_field(r))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "A header's name holds a blank or another sign that names may not "
                            "hold, or its value a control character.");
    if (has_bad_framing(r))
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "The length of the body is given in two ways.");
    /* A coding that the library does not know it waits for. RFC 9112, 6.1. */
    const char *coding = request_header(r, MHD_HTTP_HEADER_TRANSFER_ENCODING);
    if (coding != NULL && strcasecmp(coding, "chunked") != 0)
        return request_fail(r, MHD_HTTP_NOT_IMPLEMENTED,
                            "A body may be sent in chunks, and in no other coding.");
    if (has_bad_host(x))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "The request must name its host once.");
    return 0;
}
