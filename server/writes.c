/* SPDX-License-Identifier: MIT */
#include "writes.h"

#include <string.h>

#include "api.h"
#include "err.h"
#include "output.h"

static unsigned parse_rows(struct request *r, struct job *job, const char *const *names,
                           size_t count, size_t required) {
    struct textbuf why = {0};
    enum media media = media_of(job->media_type);
    unsigned status = 0;
    if (media == MEDIA_UNKNOWN)
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send application/json, application/x-ndjson or text/csv.");
    switch (upload_parse(media, job->body, job->len, names, count, required, &job->upload, &why)) {
    case ERR_OK:
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

unsigned write_readings(struct request *r, struct job *job) {
    job->kind = JOB_READINGS;
    return parse_rows(r, job, reading_field_names, READING_FIELD_COUNT, READING_CAR + 1);
}

unsigned write_decisions(struct request *r, struct job *job) {
    job->kind = JOB_DECISIONS;
    return parse_rows(r, job, decision_field_names, DECISION_FIELD_COUNT, DECISION_KIND + 1);
}

static bool has_type(const struct job *job, const char *type) {
    size_t len = strcspn(job->media_type, "; \t");
    return strlen(type) == len && strncasecmp(type, job->media_type, len) == 0;
}

unsigned write_entries(struct request *r, struct job *job) {
    job->kind = JOB_ENTRIES;
    return has_type(job, "text/csv")
               ? 0
               : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send entries.csv as text/csv.");
}

unsigned write_rules(struct request *r, struct job *job) {
    job->kind = JOB_RULES;
    return has_type(job, "application/json") ? 0
                                             : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                                                            "Send event.json as application/json.");
}

unsigned write_starts(struct request *r, struct job *job) {
    int day = 0;
    unsigned status = request_day(r, &day);
    job->kind = JOB_STARTS;
    job->number = day;
    if (status != 0 || has_type(job, "application/json"))
        return status;
    return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                        "Send how the day is started as application/json.");
}

unsigned write_notice(struct request *r, struct job *job) {
    static const char *const names[] = {"title", "text"};
    struct textbuf why = {0};
    job->kind = JOB_NOTICE;
    if (!has_type(job, "application/json"))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send {\"title\": …, \"text\": …} as application/json.");
    /* One object on as many lines as it likes: as an array of one. */
    struct textbuf list = {0};
    textbuf_putc(&list, '[');
    textbuf_add(&list, job->body, job->len);
    textbuf_putc(&list, ']');
    int err = list.failed
                  ? ERR_NOMEM
                  : upload_parse(MEDIA_JSON, list.bytes, list.len, names, 2, 0, &job->upload, &why);
    textbuf_clear(&list);
    textbuf_clear(&why);
    if (err == ERR_NOMEM)
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
    if (err != ERR_OK || job->upload.count != 1 || job->upload.rows[0].wrong != NULL ||
        job->upload.rows[0].extras != NULL || *job->upload.rows[0].fields[0] == '\0')
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "A notice is one JSON object with “title” (not empty) and “text”.");
    return 0;
}

void tell_rows(struct request *r, const struct job *job, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"accepted\":%lld,\"duplicates\":%lld,\"refused\":[",
                   (long long)job->accepted, (long long)job->duplicates);
    for (size_t i = 0; i < job->refused_count; i++) {
        const struct refused_row *row = &job->refused[i];
        long line = row->row <= job->upload.count ? job->upload.rows[row->row - 1].line : 0;
        textbuf_printf(b, "%s{\"row\":%zu,", i > 0 ? "," : "", row->row);
        if (line > 0)
            textbuf_printf(b, "\"line\":%ld,", line);
        textbuf_puts(b, "\"id\":");
        json_write_text(b, row->id == NULL ? "" : row->id);
        textbuf_puts(b, ",\"reason\":");
        json_write_text(b, row->reason == NULL ? "" : row->reason);
        textbuf_putc(b, '}');
    }
    textbuf_printf(b, "],\"revision\":%lld}\n", (long long)job->revision);
}

void tell_document(struct request *r, const struct job *job, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"revision\":%lld}\n", (long long)job->revision);
}

void tell_starts(struct request *r, const struct job *job, struct textbuf *b) {
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,", r->held->slug,
                   (long long)job->revision);
    textbuf_add(b, job->told.bytes, job->told.len);
}

void tell_notice(struct request *r, const struct job *job, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"number\":%lld,\"revision\":%lld}\n", (long long)job->number,
                   (long long)job->revision);
}
