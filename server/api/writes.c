/* SPDX-License-Identifier: MIT */
#include "api/writes.h"

#include <string.h>

#include "api/api.h"
#include "base/clock.h"
#include "base/decimal.h"
#include "base/err.h"
#include "format/json_write.h"
#include "http/dispatch.h"

static unsigned parse_rows(struct request *r, struct write *write, const char *const *names,
                           size_t count, size_t required) {
    struct textbuf why = {0};
    const struct upload_watch watch = {dispatch_upload_is_given_up, r};
    enum media media = media_of(write->media_type);
    unsigned status = 0;
    if (media == MEDIA_UNKNOWN)
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send application/json, application/x-ndjson or text/csv.");
    switch (upload_parse(media, write->body, write->len, names, count, required, &watch,
                         &write->upload, &why)) {
    case ERR_OK:
        break;
    case ERR_BUSY:
        status = dispatch_refuse(r);
        break;
    case ERR_RANGE:
        status = request_fail(r, MHD_HTTP_CONTENT_TOO_LARGE, "%s", textbuf_text(&why));
        break;
    case ERR_INPUT:
        status = request_fail(r, MHD_HTTP_BAD_REQUEST, "%s", textbuf_text(&why));
        break;
    default:
        status = request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
        break;
    }
    textbuf_clear(&why);
    return status;
}

unsigned write_readings(struct request *r, struct write *write) {
    write->kind = WRITE_READINGS;
    return parse_rows(r, write, reading_field_names, READING_FIELD_COUNT, READING_CAR + 1);
}

unsigned write_decisions(struct request *r, struct write *write) {
    write->kind = WRITE_DECISIONS;
    return parse_rows(r, write, decision_field_names, DECISION_FIELD_COUNT, DECISION_KIND + 1);
}

static bool has_type(const struct write *write, const char *type) {
    size_t len = strcspn(write->media_type, "; \t");
    return strlen(type) == len && strncasecmp(type, write->media_type, len) == 0;
}

/* Who replaces a document and why, and from which day on it is so, stand in the address: the body
 * is the document alone. */
static unsigned parse_note(struct request *r, struct write *write) {
    const char *by = request_query(r, "by");
    const char *reason = request_query(r, "reason");
    const char *since = request_query(r, "since");
    int64_t day = 0;
    if (since != NULL && date_parse(since, &day) != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“since” is no date: write YYYY-MM-DD.");
    if (by != NULL || reason != NULL || since != NULL)
        write->note = (struct change_note){by == NULL ? "" : by, reason == NULL ? "" : reason,
                                           since == NULL ? "" : since};
    return 0;
}

unsigned write_entries(struct request *r, struct write *write) {
    write->kind = WRITE_ENTRIES;
    return has_type(write, "text/csv")
               ? parse_note(r, write)
               : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send entries.csv as text/csv.");
}

unsigned write_rules(struct request *r, struct write *write) {
    write->kind = WRITE_RULES;
    return has_type(write, "application/json")
               ? parse_note(r, write)
               : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                              "Send event.json as application/json.");
}

unsigned write_starts(struct request *r, struct write *write) {
    int day = 0;
    unsigned status = request_day(r, &day);
    write->kind = WRITE_STARTS;
    write->number = day;
    if (status != 0 || has_type(write, "application/json"))
        return status;
    return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                        "Send how the day is started as application/json.");
}

unsigned write_object(struct request *r, struct write *write, const char *const *names,
                      size_t count, const char *shape) {
    struct textbuf why = {0};
    struct textbuf list = {0};
    if (!has_type(write, "application/json"))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send %s as application/json.",
                            shape);
    textbuf_putc(&list, '[');
    textbuf_add(&list, write->body, write->len);
    textbuf_putc(&list, ']');
    int err = list.failed ? ERR_NOMEM
                          : upload_parse(MEDIA_JSON, list.bytes, list.len, names, count, 0, NULL,
                                         &write->upload, &why);
    textbuf_clear(&list);
    textbuf_clear(&why);
    if (err == ERR_NOMEM)
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
    if (err != ERR_OK || write->upload.count != 1)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Send one JSON object: %s.", shape);
    const struct upload_row *row = &write->upload.rows[0];
    if (row->wrong != NULL)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Cannot be taken: %s. Send %s.", row->wrong,
                            shape);
    if (row->extras != NULL)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“%s” is no member of it: send %s.",
                            row->extras->name, shape);
    return 0;
}

static bool among(const char *word, const char *const *words) {
    for (; *words != NULL; words++) {
        if (strcmp(*words, word) == 0)
            return true;
    }
    return false;
}

unsigned write_notice(struct request *r, struct write *write) {
    static const char *const names[] = {"title", "text", "kind"};
    static const char *const kinds[] = {"", "bulletin", "provisional", "final", NULL};
    static const char shape[] = "{\"title\": …, \"text\": …, \"kind\": …}";
    write->kind = WRITE_NOTICE;
    unsigned status = write_object(r, write, names, 3, shape);
    if (status != 0)
        return status;
    const char *const *fields = write->upload.rows[0].fields;
    if (!among(fields[2], kinds))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“kind” is bulletin, provisional or final.");
    if (*fields[0] == '\0' && (*fields[2] == '\0' || *fields[2] == 'b'))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "A bulletin has a “title” (not empty).");
    return 0;
}

unsigned write_enquiry(struct request *r, struct write *write) {
    static const char *const names[] = {"kind", "car", "point", "text"};
    static const char *const kinds[] = {"enquiry", "protest", NULL};
    static const char shape[] = "{\"kind\": …, \"car\": …, \"point\": …, \"text\": …}";
    write->kind = WRITE_ENQUIRY;
    unsigned status = write_object(r, write, names, 4, shape);
    if (status != 0)
        return status;
    const char *const *fields = write->upload.rows[0].fields;
    if (!among(fields[0], kinds) || *fields[3] == '\0')
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "“kind” is enquiry or protest, and “text” says what it is about.");
    return 0;
}

unsigned write_answer(struct request *r, struct write *write) {
    static const char *const names[] = {"outcome", "text"};
    static const char *const outcomes[] = {"answered", "upheld", "rejected", "withdrawn", NULL};
    static const char shape[] = "{\"outcome\": …, \"text\": …}";
    write->kind = WRITE_ANSWER;
    if (decimal_parse_whole(r->args[1], 1, INT32_MAX, &write->number) != ERR_OK)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no case “%s”.", r->args[1]);
    unsigned status = write_object(r, write, names, 2, shape);
    if (status != 0)
        return status;
    const char *const *fields = write->upload.rows[0].fields;
    if (!among(fields[0], outcomes) || *fields[1] == '\0')
        return request_fail(
            r, MHD_HTTP_BAD_REQUEST,
            "“outcome” is answered, upheld, rejected or withdrawn, and “text” tells "
            "the crew why.");
    return 0;
}

void tell_rows(struct request *r, const struct write *write, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"accepted\":%lld,\"duplicates\":%lld,\"refused\":[",
                   (long long)write->accepted, (long long)write->duplicates);
    for (size_t i = 0; i < write->refused_count; i++) {
        const struct refused_row *row = &write->refused[i];
        long line = row->row <= write->upload.count ? write->upload.rows[row->row - 1].line : 0;
        textbuf_printf(b, "%s{\"row\":%zu,", i > 0 ? "," : "", row->row);
        if (line > 0)
            textbuf_printf(b, "\"line\":%ld,", line);
        textbuf_puts(b, "\"id\":");
        json_write_text(b, row->id == NULL ? "" : row->id);
        textbuf_puts(b, ",\"reason\":");
        json_write_text(b, row->reason == NULL ? "" : row->reason);
        textbuf_putc(b, '}');
    }
    textbuf_printf(b, "],\"revision\":%lld}\n", (long long)write->revision);
}

void tell_document(struct request *r, const struct write *write, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"revision\":%lld}\n", (long long)write->revision);
}

void tell_starts(struct request *r, const struct write *write, struct textbuf *b) {
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,", r->served->slug,
                   (long long)write->revision);
    textbuf_add(b, write->told.bytes, write->told.len);
}

void tell_notice(struct request *r, const struct write *write, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"number\":%lld,\"revision\":%lld}\n", (long long)write->number,
                   (long long)write->revision);
}
