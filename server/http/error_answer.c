/* SPDX-License-Identifier: MIT */
#include "http/error_answer.h"

#include <string.h>

#include "format/json_write.h"
#include "http/response.h"
#include "http/server_private.h"
#include "live/write.h"

static const char *problem_name(unsigned status) {
    enum refusal why = refusal_of(status);
    return status == MHD_HTTP_SERVICE_UNAVAILABLE ? "try-again"
           : why == REFUSAL_OTHER                 ? "failure"
                                                  : refusal_word(why);
}

/* Problems of a document, one a line "place: what", as a list. */
static void write_errors(struct request *r, struct textbuf *b, const char *lines) {
    struct textbuf *line = request_text(r);
    json_member_array(b, "errors");
    while (*lines != '\0') {
        size_t len = strcspn(lines, "\n");
        textbuf_reset(line);
        textbuf_add(line, lines, len);
        json_write_text(b, textbuf_text(line));
        lines += len + (lines[len] == '\n');
    }
    json_close_array(b);
    b->failed = b->failed || line->failed;
}

static void write_problem(struct exchange *x, struct textbuf *b, unsigned status) {
    struct request *r = &x->request;
    const struct write *write = x->write;
    json_open_object(b);
    json_key(b, "type");
    size_t from = json_open_text(b);
    textbuf_printf(b, "urn:cairn:problem:%s", problem_name(status));
    json_close_text(b, from);
    json_member_text(b, "title", MHD_get_reason_phrase_for(status));
    json_member_int(b, "status", status);
    json_member_text(b, "detail", r->detail);
    json_member_text(b, "instance", r->path);
    if (write != NULL && (write->result == WRITE_REFUSED || write->result == WRITE_NOT_YET))
        write_errors(r, b, textbuf_text(&write->why));
    json_close_document(b);
}

/* What writes the error as a page; NULL where it is to be JSON. */
static error_page *page_of(const struct request *r) {
    const char *accept = request_header(r, MHD_HTTP_HEADER_ACCEPT);
    if (r->error_page != NULL)
        return r->error_page;
    return accept != NULL && strstr(accept, "text/html") != NULL &&
                   strncmp(r->path, "/api/", 5) != 0
               ? r->server->app->problem_page
               : NULL;
}

static struct MHD_Response *make_response(struct exchange *x, unsigned status) {
    struct textbuf b = {0};
    error_page *page = page_of(&x->request);
    if (page != NULL)
        page(&x->request, &b, status);
    else
        write_problem(x, &b, status);
    return response_private(&b,
                            page != NULL ? "text/html; charset=utf-8" : "application/problem+json");
}

enum MHD_Result error_answer(struct exchange *x, unsigned status, const char *allowed) {
    struct MHD_Response *response = make_response(x, status);
    if (response == NULL)
        return MHD_NO;
    if (x->bad_framing || x->refusal == REFUSAL_CROWDED)
        response_add(response, MHD_HTTP_HEADER_CONNECTION, "close");
    if (status == MHD_HTTP_METHOD_NOT_ALLOWED && allowed != NULL)
        response_add(response, MHD_HTTP_HEADER_ALLOW, allowed);
    if (status == MHD_HTTP_UNAUTHORIZED)
        response_add(response, MHD_HTTP_HEADER_WWW_AUTHENTICATE, "Bearer realm=\"cairn\"");
    if (status == MHD_HTTP_TOO_MANY_REQUESTS)
        response_add(response, MHD_HTTP_HEADER_RETRY_AFTER, "60");
    if (status == MHD_HTTP_SERVICE_UNAVAILABLE)
        response_add(response, MHD_HTTP_HEADER_RETRY_AFTER, "2");
    /* The client may take long to fetch it. */
    request_memory_clear(&x->request);
    return response_send(x, status, response);
}
