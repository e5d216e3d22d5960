/* SPDX-License-Identifier: MIT */
#include "api/crew.h"

#include <ctype.h>
#include <string.h>

#include "api/api.h"
#include "api/arguments.h"
#include "api/bodies.h"
#include "api/event_object.h"
#include "base/utf8.h"
#include "format/json_write.h"
#include "http/cross_site.h"
#include "http/request.h"
#include "store/code_book.h"
#include "store/stored_enquiries.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

/* Each of these returns 0, or the status of an error described, and then says what is wrong. */

static unsigned check_origin(struct request *r, enum crew_fault *fault) {
    if (!request_is_cross_site(r))
        return 0;
    *fault = CREW_CROSS_SITE;
    return request_fail(r, MHD_HTTP_FORBIDDEN,
                        "A page of another site sent this; nothing was taken.");
}

/* A code is short: who has tried too many is not even told whether the next one is right. */
static unsigned check_code(struct request *r, int64_t car, const char *code,
                           enum crew_fault *fault) {
    const struct code_book *book = &r->snapshot->keys->codes;
    *fault = CREW_CODE_MISSING;
    if (*code == '\0')
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "code: the code of the crew is missing.");
    *fault = CREW_CODE_WAIT;
    if (!request_may_try(r, car))
        return request_fail(r, MHD_HTTP_TOO_MANY_REQUESTS,
                            "Too many wrong codes from this address; wait a minute.");
    *fault = CREW_CODE_WRONG;
    if (!crew_code_is(book->secret, car, code_book_serial(book, car), code)) {
        (void)request_tried_wrong(r, car);
        return request_fail(r, MHD_HTTP_FORBIDDEN, "code: this is not the code of car %lld.",
                            (long long)car);
    }
    *fault = CREW_NO_FAULT;
    request_tried_right(r, car);
    return 0;
}

/* The point of a card that everybody may see; "" for the whole card. What is hidden and what is not
 * there are told alike. */
static unsigned check_point(struct request *r, const char *point, enum crew_fault *fault) {
    const struct rules *rules = r->snapshot->event.rules;
    const struct view *view = r->snapshot->public_results.view;
    for (int i = 0; i < rules->scored_count; i++) {
        if (view->visible[rules->scored[i].item] && strcmp(rules->scored[i].id, point) == 0)
            return 0;
    }
    if (*point == '\0')
        return 0;
    *fault = CREW_POINT_UNKNOWN;
    return request_fail(r, MHD_HTTP_UNPROCESSABLE_CONTENT, "point: “%.64s” is not on the card.",
                        point);
}

/* Makes line ends "\n" and takes white space from both ends, in place. Returns where it begins. */
static char *tidy(char *text) {
    char *to = text;
    if (*text == '\0')
        return text; /* which may be nobody's to write to */
    for (const char *from = text; *from != '\0'; from++) {
        if (*from == '\r')
            from += from[1] == '\n';
        *to++ = (char)(*from == '\r' ? '\n' : *from);
    }
    while (to > text && isspace((unsigned char)to[-1]))
        to--;
    *to = '\0';
    return text + strspn(text, " \t\n");
}

static bool has_control_characters(const char *text) {
    for (const char *c = text; *c != '\0'; c++) {
        if (((unsigned char)*c < ' ' && *c != '\n' && *c != '\t') || *c == 0x7f)
            return true;
    }
    return false;
}

static unsigned check_text(struct request *r, const char *text, enum crew_fault *fault) {
    int count = 0;
    *fault = CREW_TEXT_MISSING;
    if (*text == '\0')
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "text: the question is missing.");
    *fault = CREW_TEXT_SIGNS;
    if (has_control_characters(text))
        return request_fail(r, MHD_HTTP_UNPROCESSABLE_CONTENT,
                            "text: it holds signs that are no text.");
    for (const char *c = text; *c != '\0'; count++)
        (void)utf8_next(&c);
    *fault = CREW_TEXT_LONG;
    if (count > LIMIT_CREW_TEXT)
        return request_fail(r, MHD_HTTP_UNPROCESSABLE_CONTENT,
                            "text: it has %d characters and may have %d.", count, LIMIT_CREW_TEXT);
    *fault = CREW_NO_FAULT;
    return 0;
}

unsigned crew_identify(struct request *r, const char *code, int64_t *number,
                       enum crew_fault *fault) {
    int car = -1;
    *fault = CREW_NO_FAULT;
    unsigned status = check_origin(r, fault);
    if (status == 0)
        status = request_car(r, &car);
    if (status != 0)
        return status;
    *number = r->snapshot->event.entries->list[car].number;
    return check_code(r, *number, code, fault);
}

unsigned crew_ask(struct request *r, const char *code, const char *point, char *text,
                  enum crew_fault *fault, struct write **out) {
    int64_t car = 0;
    unsigned status = crew_identify(r, code, &car, fault);
    if (status != 0)
        return status;
    text = tidy(text);
    status = check_text(r, text, fault);
    if (status == 0)
        status = check_point(r, point, fault);
    if (status != 0)
        return status;
    struct crew_enquiry_write *write = crew_enquiry_write_new();
    if (write == NULL)
        return request_no_memory(r);
    write->car = car;
    write->code = code;
    write->point = point;
    write->text = text;
    *out = &write->head;
    return 0;
}

static unsigned prepare_crew_enquiry(struct request *r, struct write **out) {
    static const char *const names[] = {"code", "point", "text"};
    enum crew_fault fault;
    const char *const *fields;
    unsigned status = request_object(r, names, 3, &fields);
    /* The texts are the request's own memory, where nothing else looks. */
    return status != 0 ? status : crew_ask(r, fields[0], fields[1], (char *)fields[2], &fault, out);
}

static void answer_crew_enquiry(struct request *r, const struct write *head, struct textbuf *b) {
    const struct crew_enquiry_write *write = crew_enquiry_write_of(head);
    event_object_open(r, b);
    json_member_int(b, "car", write->car);
    json_member_int(b, "number", write->number);
    json_member_instant(b, "received", write->opened_ms);
    json_close_document(b);
}

const struct write_handler write_crew_enquiry = {.prepare = prepare_crew_enquiry,
                                                 .answer = answer_crew_enquiry};

/* Who asks: the body is {"code": …}. Returns 0, or the status of an error described. */
static unsigned read_code(struct request *r, int64_t *car) {
    static const char *const names[] = {"code"};
    enum crew_fault fault;
    const char *const *fields;
    unsigned status = request_object(r, names, 1, &fields);
    return status != 0 ? status : crew_identify(r, fields[0], car, &fault);
}

static void write_answer_member(struct textbuf *b, const struct stored_enquiry *e) {
    if (e->answered_ms == 0) {
        json_member_null(b, "answer");
        return;
    }
    json_member_object(b, "answer");
    json_member_text(b, "outcome", e->outcome);
    json_member_text(b, "text", e->answer);
    json_member_instant(b, "answered", e->answered_ms);
    json_close_object(b);
}

void enquiry_write_json(struct textbuf *b, const struct stored_enquiry *e) {
    json_line(b);
    json_open_object(b);
    json_member_int(b, "number", e->number);
    json_member_text(b, "kind", e->kind);
    json_member_text(b, "by", e->by_crew ? "crew" : "office");
    json_member_int(b, "car", stored_enquiry_car(e));
    json_member_text_or_null(b, "point", *e->point == '\0' ? NULL : e->point);
    json_member_text(b, "text", e->text);
    json_member_instant(b, "opened", e->opened_ms);
    write_answer_member(b, e);
    json_close_object(b);
}

unsigned act_crew_cases(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    int64_t car = 0;
    unsigned status = read_code(r, &car);
    if (status != 0)
        return status;
    event_object_open(r, b);
    json_member_int(b, "car", car);
    json_member_array(b, "enquiries");
    for (size_t i = 0; i < board->enquiry_count; i++) {
        if (stored_enquiry_car(&board->enquiries[i]) == car)
            enquiry_write_json(b, &board->enquiries[i]);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}
