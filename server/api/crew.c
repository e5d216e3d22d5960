/* SPDX-License-Identifier: MIT */
#include "api/crew.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "api/api.h"
#include "api/api_notices.h"
#include "api/writes.h"
#include "base/err.h"
#include "base/utf8.h"
#include "http/cross_site.h"
#include "pages/page.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

static const char *const field_names[ASK_FIELD_COUNT] = {"code", "lang", "point", "text"};

/* Describes an error, and for the page of a form which word tells it. */
#define fail(r_, status_, fault_, ...)                                                             \
    ((r_)->form.fault = (fault_), request_fail((r_), (status_), __VA_ARGS__))

/* The number of the car that the address names. Returns 0 or the status of an error. */
static unsigned find_car(struct request *r, int64_t *number) {
    int car = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        *number = r->snapshot->event.entries->list[car].number;
    return status;
}

static unsigned check_origin(struct request *r) {
    return request_is_cross_site(r) ? fail(r, MHD_HTTP_FORBIDDEN, "fault-foreign",
                                           "A page of another site sent this; nothing was taken.")
                                    : 0;
}

/* A code is short: who has tried too many is not even told whether the next one is right. */
static unsigned check_code(struct request *r, int64_t car, const char *code) {
    const struct code_book *book = &r->snapshot->keys->codes;
    if (*code == '\0')
        return fail(r, MHD_HTTP_BAD_REQUEST, "fault-code-missing",
                    "code: the code of the crew is missing.");
    if (!request_may_try(r, car))
        return fail(r, MHD_HTTP_TOO_MANY_REQUESTS, "fault-code-wait",
                    "Too many wrong codes from this address; wait a minute.");
    if (crew_code_is(book->secret, car, code_book_serial(book, car), code)) {
        request_tried_right(r, car);
        return 0;
    }
    (void)request_tried_wrong(r, car);
    return fail(r, MHD_HTTP_FORBIDDEN, "fault-code-wrong",
                "code: this is not the code of car %lld.", (long long)car);
}

/* The point of a card that everybody may see; "" for the whole card. What is hidden and what is not
 * there are told alike. */
static unsigned check_point(struct request *r, const char *point) {
    const struct rules *rules = r->snapshot->event.rules;
    const struct view *view = r->snapshot->public_results.view;
    for (int i = 0; i < rules->scored_count; i++) {
        if (view->visible[rules->scored[i].item] && strcmp(rules->scored[i].id, point) == 0)
            return 0;
    }
    return *point == '\0' ? 0
                          : fail(r, MHD_HTTP_UNPROCESSABLE_CONTENT, "fault-point",
                                 "point: “%.64s” is not on the card.", point);
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

static unsigned check_text(struct request *r, const char *text) {
    int count = 0;
    if (*text == '\0')
        return fail(r, MHD_HTTP_BAD_REQUEST, "fault-text-missing",
                    "text: the question is missing.");
    for (const char *c = text; *c != '\0'; c++) {
        if (((unsigned char)*c < ' ' && *c != '\n' && *c != '\t') || *c == 0x7f)
            return fail(r, MHD_HTTP_UNPROCESSABLE_CONTENT, "fault-text-signs",
                        "text: it holds signs that are no text.");
    }
    for (const char *c = text; *c != '\0'; count++)
        (void)utf8_next(&c);
    return count <= LIMIT_CREW_TEXT
               ? 0
               : fail(r, MHD_HTTP_UNPROCESSABLE_CONTENT, "fault-text-long",
                      "text: it has %d characters and may have %d.", count, LIMIT_CREW_TEXT);
}

/* Looks a crew's question over and hands it to the write. */
static unsigned take_question(struct request *r, struct write *write, const char *code,
                              const char *point, char *text) {
    unsigned status = check_origin(r);
    write->kind = WRITE_CREW_ENQUIRY;
    if (status == 0)
        status = find_car(r, &write->crew.car);
    if (status == 0)
        status = check_code(r, write->crew.car, code);
    if (status != 0)
        return status;
    write->crew.code = code;
    write->crew.point = point;
    write->crew.text = tidy(text);
    status = check_text(r, write->crew.text);
    return status != 0 ? status : check_point(r, point);
}

unsigned write_crew_enquiry(struct request *r, struct write *write) {
    static const char *const names[] = {"code", "point", "text"};
    static const char shape[] = "{\"code\": …, \"point\": …, \"text\": …}";
    unsigned status = write_object(r, write, names, 3, shape);
    if (status != 0)
        return status;
    /* The rows are the write's own arena, where nothing else looks. */
    const char *const *fields = write->upload.rows[0].fields;
    return take_question(r, write, fields[0], fields[1], (char *)fields[2]);
}

void tell_crew_enquiry(struct request *r, const struct write *write, struct textbuf *b) {
    textbuf_printf(b, "{\"event\":\"%s\",\"car\":%lld,\"number\":%lld,\"received\":\"",
                   r->served->slug, (long long)write->crew.car, (long long)write->number);
    write_instant(b, write->at_ms);
    textbuf_puts(b, "\"}\n");
}

unsigned act_crew_cases(struct request *r, struct textbuf *b) {
    static const char *const names[] = {"code"};
    const struct noticeboard *board = r->snapshot->notices;
    struct write write = {.media_type = request_header(r, MHD_HTTP_HEADER_CONTENT_TYPE),
                          .body = r->body == NULL ? (char *)"" : r->body,
                          .len = r->body_len};
    const char *sep = "";
    int64_t car = 0;
    if (write.media_type == NULL)
        write.media_type = "";
    unsigned status = write_object(r, &write, names, 1, "{\"code\": …}");
    if (status == 0)
        status = check_origin(r);
    if (status == 0)
        status = find_car(r, &car);
    if (status == 0)
        status = check_code(r, car, write.upload.rows[0].fields[0]);
    upload_clear(&write.upload);
    if (status != 0)
        return status;
    textbuf_printf(b, "{\"event\":\"%s\",\"car\":%lld,\"enquiries\":[", r->served->slug,
                   (long long)car);
    for (size_t i = 0; i < board->enquiry_count; i++) {
        if (stored_enquiry_car(&board->enquiries[i]) != car)
            continue;
        textbuf_puts(b, sep);
        enquiry_write_json(b, &board->enquiries[i]);
        sep = ",";
    }
    textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

/* ---- the same as forms ---- */

/* Takes a form's body apart; from here on errors are told by its page, in the language that it
 * names. */
static unsigned read_form(struct request *r, const char *media_type, const char *body, size_t len,
                          size_t count) {
    enum lang lang;
    size_t type_len = strcspn(media_type, "; \t");
    if (type_len != strlen(MHD_HTTP_POST_ENCODING_FORM_URLENCODED) ||
        strncasecmp(media_type, MHD_HTTP_POST_ENCODING_FORM_URLENCODED, type_len) != 0)
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send the form as application/x-www-form-urlencoded.");
    int err = form_body_read(&r->form, body, len, field_names, count);
    if (err == ERR_NOMEM)
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
    if (err != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "This is not what the form of the page sends.");
    if (lang_parse(r->form.values[ASK_LANG], &lang) == ERR_OK)
        r->query[0] = lang_code(lang);
    return 0;
}

unsigned write_crew_form(struct request *r, struct write *write) {
    unsigned status = read_form(r, write->media_type, write->body, write->len, ASK_FIELD_COUNT);
    /* The form's text is its own memory, which lives as long as the request. */
    return status != 0 ? status
                       : take_question(r, write, r->form.values[ASK_CODE],
                                       r->form.values[ASK_POINT], (char *)r->form.values[ASK_TEXT]);
}

void tell_crew_form(struct request *r, const struct write *write, struct textbuf *b) {
    char receipt[RECEIPT_LEN + 1];
    crew_receipt_make(r->snapshot->keys->codes.secret, write->crew.car, write->number, receipt);
    textbuf_printf(b, "/%s/cars/%lld/enquiry?case=%lld&receipt=%s", r->served->slug,
                   (long long)write->crew.car, (long long)write->number, receipt);
    if (request_names_language(r))
        textbuf_printf(b, "&lang=%s", lang_code(request_language(r)));
}

unsigned act_crew_answers(struct request *r, struct textbuf *b) {
    const char *media_type = request_header(r, MHD_HTTP_HEADER_CONTENT_TYPE);
    struct page p;
    int car = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status =
            read_form(r, media_type == NULL ? "" : media_type, r->body, r->body_len, ASK_LANG + 1);
    if (status == 0)
        status = check_origin(r);
    if (status == 0)
        status =
            check_code(r, r->snapshot->event.entries->list[car].number, r->form.values[ASK_CODE]);
    if (status != 0)
        return status;
    page_begin(&p, r, r->snapshot->public_results.view);
    put_cases(&p, car);
    return page_finish(&p, b, &(struct page_frame){.title = said(&p, "ask-cases"), .sends = true});
}
