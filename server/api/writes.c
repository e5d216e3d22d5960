/* SPDX-License-Identifier: MIT */
#include "api/writes.h"

#include <string.h>

#include "api/api.h"
#include "api/arguments.h"
#include "api/bodies.h"
#include "api/event_object.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/times.h"
#include "format/json_write.h"
#include "http/request.h"
#include "output/output.h"
#include "store/stored_documents.h"

/* Takes the body apart into the rows of a new write, NULL when memory is out. */
static unsigned prepare_rows(struct request *r, struct rows_write *write, const char *const *names,
                             size_t count, size_t required, struct write **out) {
    if (write == NULL)
        return request_no_memory(r);
    *out = &write->head;
    write->body = request_body(r);
    return request_rows(r, names, count, required, &write->rows);
}

static unsigned prepare_readings(struct request *r, struct write **out) {
    return prepare_rows(r, readings_write_new(), reading_field_names, READING_FIELD_COUNT,
                        READING_CAR + 1, out);
}

static unsigned prepare_decisions(struct request *r, struct write **out) {
    return prepare_rows(r, decisions_write_new(), decision_field_names, DECISION_FIELD_COUNT,
                        DECISION_KIND + 1, out);
}

/* Who replaces a document and why, and from which day on it is so, stand in the address: the body
 * is the document alone. */
static unsigned parse_note(struct request *r, struct change_note *note) {
    const char *by = request_query(r, "by");
    const char *reason = request_query(r, "reason");
    const char *since = request_query(r, "since");
    int64_t day = 0;
    if (since != NULL && date_parse(since, &day) != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“since” is no date: write YYYY-MM-DD.");
    if (by != NULL || reason != NULL || since != NULL)
        *note = (struct change_note){by == NULL ? "" : by, reason == NULL ? "" : reason,
                                     since == NULL ? "" : since};
    return 0;
}

static unsigned prepare_document(struct request *r, struct document_write *(*make)(void),
                                 struct write **out) {
    struct change_note note = {0};
    unsigned status = parse_note(r, &note);
    if (status != 0)
        return status;
    struct document_write *write = make();
    if (write == NULL)
        return request_no_memory(r);
    write->body = request_body(r);
    write->note = note;
    *out = &write->head;
    return 0;
}

static unsigned prepare_entries(struct request *r, struct write **out) {
    return request_has_type(r, "text/csv")
               ? prepare_document(r, entries_write_new, out)
               : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send entries.csv as text/csv.");
}

static unsigned prepare_rules(struct request *r, struct write **out) {
    return request_has_type(r, "application/json")
               ? prepare_document(r, rules_write_new, out)
               : request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                              "Send event.json as application/json.");
}

static unsigned prepare_starts(struct request *r, struct write **out) {
    int day = 0;
    unsigned status = request_day(r, &day);
    if (status != 0)
        return status;
    if (!request_has_type(r, "application/json"))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send how the day is started as application/json.");
    struct start_list_write *write = start_list_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->body = request_body(r);
    write->day = day;
    *out = &write->head;
    return 0;
}

static bool among(const char *word, const char *const *words) {
    for (; *words != NULL; words++) {
        if (strcmp(*words, word) == 0)
            return true;
    }
    return false;
}

static unsigned prepare_notice(struct request *r, struct write **out) {
    enum { TITLE, TEXT, KIND, COUNT };
    static const char *const names[COUNT] = {"title", "text", "kind"};
    static const char *const kinds[] = {"", "bulletin", "provisional", "final", NULL};
    const char *const *fields;
    unsigned status = request_object(r, names, COUNT, &fields);
    if (status != 0)
        return status;
    const char *kind = *fields[KIND] == '\0' ? "bulletin" : fields[KIND];
    if (!among(fields[KIND], kinds))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“kind” is bulletin, provisional or final.");
    if (*fields[TITLE] == '\0' && strcmp(kind, "bulletin") == 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "A bulletin has a “title” (not empty).");
    struct notice_write *write = notice_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->body = request_body(r);
    write->kind = kind;
    write->title = fields[TITLE];
    write->text = fields[TEXT];
    *out = &write->head;
    return 0;
}

static unsigned prepare_enquiry(struct request *r, struct write **out) {
    enum { KIND, CAR, POINT, TEXT, COUNT };
    static const char *const names[COUNT] = {"kind", "car", "point", "text"};
    static const char *const kinds[] = {"enquiry", "protest", NULL};
    const char *const *fields;
    unsigned status = request_object(r, names, COUNT, &fields);
    if (status != 0)
        return status;
    if (!among(fields[KIND], kinds) || *fields[TEXT] == '\0')
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "“kind” is enquiry or protest, and “text” says what it is about.");
    struct enquiry_write *write = enquiry_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->body = request_body(r);
    write->kind = fields[KIND];
    write->car = fields[CAR];
    write->point = fields[POINT];
    write->text = fields[TEXT];
    *out = &write->head;
    return 0;
}

static unsigned prepare_answer(struct request *r, struct write **out) {
    enum { OUTCOME, TEXT, COUNT };
    static const char *const names[COUNT] = {"outcome", "text"};
    static const char *const outcomes[] = {"answered", "upheld", "rejected", "withdrawn", NULL};
    const char *const *fields;
    int64_t number = 0;
    if (decimal_parse_whole(r->args[1], 1, INT32_MAX, &number) != ERR_OK)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no case “%s”.", r->args[1]);
    unsigned status = request_object(r, names, COUNT, &fields);
    if (status != 0)
        return status;
    if (!among(fields[OUTCOME], outcomes) || *fields[TEXT] == '\0')
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "“outcome” is answered, upheld, rejected or withdrawn, and “text” "
                            "tells the crew why.");
    struct answer_write *write = answer_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->body = request_body(r);
    write->number = number;
    write->outcome = fields[OUTCOME];
    write->text = fields[TEXT];
    *out = &write->head;
    return 0;
}

static void answer_rows(struct request *r, const struct write *head, struct textbuf *b) {
    const struct rows_write *write = rows_write_of(head);
    (void)r;
    json_open_object(b);
    json_member_int(b, "accepted", write->accepted);
    json_member_int(b, "duplicates", write->duplicates);
    json_member_array(b, "refused");
    for (size_t i = 0; i < write->refused_count; i++) {
        const struct refused_row *row = &write->refused[i];
        long line = row->row <= write->rows.count ? write->rows.rows[row->row - 1].line : 0;
        json_open_object(b);
        json_member_int(b, "row", (int64_t)row->row);
        if (line > 0)
            json_member_int(b, "line", line);
        json_member_text(b, "id", row->id);
        json_member_text(b, "reason", row->reason);
        json_close_object(b);
    }
    json_close_array(b);
    json_member_int(b, "revision", head->revision);
    json_close_document(b);
}

void answer_document(struct request *r, const struct write *head, struct textbuf *b) {
    (void)r;
    json_open_object(b);
    json_member_int(b, "revision", head->revision);
    json_close_document(b);
}

static void answer_starts(struct request *r, const struct write *head, struct textbuf *b) {
    const struct start_list_write *write = start_list_write_of(head);
    event_object_open(r, b);
    json_member_int(b, "revision", head->revision);
    json_write_raw(b, write->list.bytes, write->list.len);
    json_close_document(b);
}

static void answer_number(const struct write *head, int64_t number, struct textbuf *b) {
    json_open_object(b);
    json_member_int(b, "number", number);
    json_member_int(b, "revision", head->revision);
    json_close_document(b);
}

static void answer_notice(struct request *r, const struct write *head, struct textbuf *b) {
    (void)r;
    answer_number(head, notice_write_of(head)->number, b);
}

static void answer_enquiry(struct request *r, const struct write *head, struct textbuf *b) {
    (void)r;
    answer_number(head, enquiry_write_of(head)->number, b);
}

static void answer_answer(struct request *r, const struct write *head, struct textbuf *b) {
    (void)r;
    answer_number(head, answer_write_of(head)->number, b);
}

const struct write_handler write_readings = {.prepare = prepare_readings, .answer = answer_rows};
const struct write_handler write_decisions = {.prepare = prepare_decisions, .answer = answer_rows};
const struct write_handler write_entries = {.prepare = prepare_entries, .answer = answer_document};
const struct write_handler write_rules = {.prepare = prepare_rules, .answer = answer_document};
const struct write_handler write_starts = {.prepare = prepare_starts, .answer = answer_starts};
const struct write_handler write_notice = {.prepare = prepare_notice, .answer = answer_notice};
const struct write_handler write_enquiry = {.prepare = prepare_enquiry, .answer = answer_enquiry};
const struct write_handler write_answer = {.prepare = prepare_answer, .answer = answer_answer};
