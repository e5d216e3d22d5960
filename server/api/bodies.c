/* SPDX-License-Identifier: MIT */
#include "api/bodies.h"

#include <string.h>

#include "base/err.h"
#include "base/problem.h"

/* As upload.h asks for it. */
static bool is_abandoned(void *request) {
    return request_is_abandoned(request);
}

unsigned request_rows(struct request *r, const char *const *names, size_t count, size_t required,
                      struct upload *out) {
    struct textbuf *why = request_text(r);
    const struct upload_watch watch = {is_abandoned, r};
    enum media media = media_of(request_header(r, MHD_HTTP_HEADER_CONTENT_TYPE));
    if (media == MEDIA_UNKNOWN)
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send application/json, application/x-ndjson or text/csv.");
    switch (upload_parse(media, r->body, r->body_len, names, count, required, &watch, out, why)) {
    case ERR_OK:
        return 0;
    case ERR_BUSY:
        return request_abandon(r);
    case ERR_RANGE:
        return request_fail(r, MHD_HTTP_CONTENT_TOO_LARGE, "%s", textbuf_text(why));
    case ERR_INPUT:
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "%s", textbuf_text(why));
    default:
        return request_no_memory(r);
    }
}

static void clear_upload(void *upload) {
    upload_clear(upload);
}

struct upload *request_upload(struct request *r) {
    struct upload *upload = request_array(r, 1, sizeof *upload);
    return upload != NULL && request_owns(r, upload, clear_upload) ? upload : NULL;
}

/* How an object should be, for who sent another: `{"title": …, "text": …}`. */
static const char *shape_of(struct request *r, const char *const *names, size_t count,
                            const char *value) {
    struct textbuf *shape = request_text(r);
    for (size_t i = 0; i < count; i++)
        textbuf_printf(shape, "%s\"%s\": %s", i > 0 ? ", " : "{", names[i], value);
    textbuf_putc(shape, '}');
    return textbuf_text(shape);
}

/* As request_object.
 *   value  what may stand behind a name, for who sent something else */
static unsigned read_object(struct request *r, const char *const *names, size_t count,
                            const char *value, const char *const **fields) {
    const char *shape = shape_of(r, names, count, value);
    struct upload *out = request_upload(r);
    struct textbuf *why = request_text(r);
    struct textbuf *list = request_text(r);
    if (!request_has_type(r, "application/json"))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send %s as application/json.",
                            shape);
    textbuf_putc(list, '[');
    textbuf_add(list, r->body, r->body_len);
    textbuf_putc(list, ']');
    int err = list->failed || out == NULL ? ERR_NOMEM
                                          : upload_parse(MEDIA_JSON, list->bytes, list->len, names,
                                                         count, 0, NULL, out, why);
    if (err == ERR_NOMEM)
        return request_no_memory(r);
    if (err != ERR_OK || out->count != 1)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Send one JSON object: %s.", shape);
    const struct upload_row *row = &out->rows[0];
    if (row->wrong != NULL)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Cannot be taken: %s. Send %s.", row->wrong,
                            shape);
    if (row->extras != NULL)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“%s” is no member of it: send %s.",
                            row->extras->name, shape);
    *fields = row->fields;
    return 0;
}

unsigned request_object(struct request *r, const char *const *names, size_t count,
                        const char *const **fields) {
    return read_object(r, names, count, "…", fields);
}

unsigned request_flag(struct request *r, const char *name, bool *set) {
    static const char *const none[] = {""};
    const char *const *fields = none;
    unsigned status = read_object(r, &name, 1, "true", &fields);
    *set = status == 0 && strcmp(fields[0], "yes") == 0;
    return status;
}

struct write_body request_body(const struct request *r) {
    const char *media_type = request_header(r, MHD_HTTP_HEADER_CONTENT_TYPE);
    return (struct write_body){media_type == NULL ? "" : media_type, r->body, r->body_len};
}

static void clear_problems(void *problems) {
    problems_clear(problems);
}

struct problems *request_problems(struct request *r) {
    return request_value(r, sizeof(struct problems), clear_problems);
}

static void free_json(void *json) {
    json_decref(json);
}

bool request_owns_json(struct request *r, json_t *value) {
    return request_owns(r, value, free_json);
}

int request_json(struct request *r, const char *name, struct json_reader *reader, json_t **root) {
    *reader = (struct json_reader){
        .file = name, .arena = request_arena(r), .problems = request_problems(r)};
    *root = NULL;
    if (reader->arena == NULL || reader->problems == NULL)
        return ERR_NOMEM;
    int err = json_read_text(reader, r->body, r->body_len, root);
    return request_owns_json(r, *root) ? err : ERR_NOMEM;
}
