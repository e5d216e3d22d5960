/* SPDX-License-Identifier: MIT */
#include "api/api.h"
#include "api/bodies.h"
#include "api/writes.h"
#include "http/request.h"

#include <string.h>

#include "api/arguments.h"
#include "base/clock.h"
#include "base/decimal.h"
#include "base/err.h"
#include "format/json_write.h"
#include "output/output.h"

static unsigned prepare_readings(struct request *r, struct write *write) {
    write->kind = WRITE_READINGS;
    return request_rows(r, reading_field_names, READING_FIELD_COUNT, READING_CAR + 1,
                        &write->upload);
}

static unsigned prepare_decisions(struct request *r, struct write *write) {
    write->kind = WRITE_DECISIONS;
    return request_rows(r, decision_field_names, DECISION_FIELD_COUNT, DECISION_KIND + 1,
                        &write->upload);
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

static unsigned prepare_entries(struct request *r, struct write *write) {
    write->kind = WRITE_ENTRIES;
    return request_has_type(r, "text/csv")
               ? parse_note(r, write)
               : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send entries.csv as text/csv.");
}

static unsigned prepare_rules(struct request *r, struct write *write) {
    write->kind = WRITE_RULES;
    return request_has_type(r, "application/json")
               ? parse_note(r, write)
               : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                              "Send event.json as application/json.");
}

static unsigned prepare_starts(struct request *r, struct write *write) {
    int day = 0;
    unsigned status = request_day(r, &day);
    write->kind = WRITE_STARTS;
    write->number = day;
    if (status != 0 || request_has_type(r, "application/json"))
        return status;
    return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                        "Send how the day is started as application/json.");
}

static bool among(const char *word, const char *const *words) {
    for (; *words != NULL; words++) {
        if (strcmp(*words, word) == 0)
            return true;
    }
    return false;
}

static unsigned prepare_notice(struct request *r, struct write *write) {
    static const char *const names[] = {"title", "text", "kind"};
    static const char *const kinds[] = {"", "bulletin", "provisional", "final", NULL};
    static const char shape[] = "{\"title\": …, \"text\": …, \"kind\": …}";
    write->kind = WRITE_NOTICE;
    unsigned status = request_object(r, names, 3, shape, &write->upload);
    if (status != 0)
        return status;
    const char *const *fields = write->upload.rows[0].fields;
    if (!among(fields[2], kinds))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“kind” is bulletin, provisional or final.");
    if (*fields[0] == '\0' && (*fields[2] == '\0' || *fields[2] == 'b'))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "A bulletin has a “title” (not empty).");
    return 0;
}

static unsigned prepare_enquiry(struct request *r, struct write *write) {
    static const char *const names[] = {"kind", "car", "point", "text"};
    static const char *const kinds[] = {"enquiry", "protest", NULL};
    static const char shape[] = "{\"kind\": …, \"car\": …, \"point\": …, \"text\": …}";
    write->kind = WRITE_ENQUIRY;
    unsigned status = request_object(r, names, 4, shape, &write->upload);
    if (status != 0)
        return status;
    const char *const *fields = write->upload.rows[0].fields;
    if (!among(fields[0], kinds) || *fields[3] == '\0')
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "“kind” is enquiry or protest, and “text” says what it is about.");
    return 0;
}

static unsigned prepare_answer(struct request *r, struct write *write) {
    static const char *const names[] = {"outcome", "text"};
    static const char *const outcomes[] = {"answered", "upheld", "rejected", "withdrawn", NULL};
    static const char shape[] = "{\"outcome\": …, \"text\": …}";
    write->kind = WRITE_ANSWER;
    if (decimal_parse_whole(r->args[1], 1, INT32_MAX, &write->number) != ERR_OK)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no case “%s”.", r->args[1]);
    unsigned status = request_object(r, names, 2, shape, &write->upload);
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

static void answer_rows(struct request *r, const struct write *write, struct textbuf *b) {
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

void answer_document(struct request *r, const struct write *write, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"revision\":%lld}\n", (long long)write->revision);
}

static void answer_starts(struct request *r, const struct write *write, struct textbuf *b) {
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,", r->served->slug,
                   (long long)write->revision);
    textbuf_add(b, write->told.bytes, write->told.len);
}

static void answer_number(struct request *r, const struct write *write, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"number\":%lld,\"revision\":%lld}\n", (long long)write->number,
                   (long long)write->revision);
}

const struct write_handler write_readings = {.prepare = prepare_readings, .answer = answer_rows};
const struct write_handler write_decisions = {.prepare = prepare_decisions, .answer = answer_rows};
const struct write_handler write_entries = {.prepare = prepare_entries, .answer = answer_document};
const struct write_handler write_rules = {.prepare = prepare_rules, .answer = answer_document};
const struct write_handler write_starts = {.prepare = prepare_starts, .answer = answer_starts};
const struct write_handler write_notice = {.prepare = prepare_notice, .answer = answer_number};
const struct write_handler write_enquiry = {.prepare = prepare_enquiry, .answer = answer_number};
const struct write_handler write_answer = {.prepare = prepare_answer, .answer = answer_number};
