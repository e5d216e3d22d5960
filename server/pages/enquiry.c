/* SPDX-License-Identifier: MIT */
/* A crew asks about its card, without JavaScript: the form, its receipt, what is wrong with it,
 * the cases with their answers. */
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "api/arguments.h"
#include "api/crew.h"
#include "base/decimal.h"
#include "base/err.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "store/crew_code.h"
#include "store/stored_enquiries.h"
#include "system/hard_limits.h"
#include "system/html.h"

/* Fields of the forms; that of the cases has the first two only. */
enum { ASK_CODE, ASK_LANG, ASK_POINT, ASK_TEXT, ASK_FIELD_COUNT };
static const char *const field_names[ASK_FIELD_COUNT] = {"code", "lang", "point", "text"};

static int64_t number_of(const struct page *p, int car) {
    return p->event->entries->list[car].number;
}

/* Begins a form of a car that is posted to a place behind its card's address. The language goes
 * with it, so that the answer is in it too. */
static void form_begin(struct page *p, int car, const char *place) {
    char address[128];
    (void)snprintf(address, sizeof address, "/%s/cars/%lld/%s", p->rules->slug,
                   (long long)number_of(p, car), place);
    textbuf_puts(&p->m, "<form class=\"ask\" method=\"post\" accept-charset=\"utf-8\" ");
    (void)page_link(p, "action", address);
    textbuf_printf(&p->m, ">\n<input type=\"hidden\" name=\"lang\" value=\"%s\">\n",
                   lang_code(p->lang));
}

static void label(struct page *p, const char *form, const char *field, const char *key) {
    textbuf_printf(&p->m, "<p><label for=\"%s-%s\">", form, field);
    say(p, key);
    textbuf_puts(&p->m, "</label>\n");
}

static void hint(struct page *p, const char *form, const char *field, const char *key) {
    textbuf_printf(&p->m, "<small id=\"%s-%s-hint\">", form, field);
    say(p, key);
    textbuf_puts(&p->m, "</small>\n");
}

/* Whether this is the form that came back; the form of cases writes nothing. */
static bool is_refused(const struct page *p, const char *form) {
    bool asked = p->r->route->handler.sort == HANDLER_WRITE;
    return p->r->form.read && asked == (strcmp(form, "ask") == 0);
}

/* What was typed, where it comes back with a fault. */
static const char *typed(const struct page *p, int field) {
    return p->r->form.read ? p->r->form.values[field] : "";
}

static bool fault_is_in(const struct page *p, const char *beginning) {
    const char *fault = p->r->form.fault;
    return fault != NULL && strncmp(fault, beginning, strlen(beginning)) == 0;
}

static void put_code(struct page *p, const char *form) {
    label(p, form, "code", "ask-code");
    hint(p, form, "code", "ask-code-hint");
    textbuf_printf(
        &p->m,
        "<input type=\"text\" id=\"%s-code\" name=\"code\" required maxlength=\"24\" size=\"14\""
        " autocomplete=\"off\" autocapitalize=\"characters\" spellcheck=\"false\""
        " aria-describedby=\"%s-code-hint\"%s value=\"",
        form, form,
        is_refused(p, form) && fault_is_in(p, "fault-code") ? " aria-invalid=\"true\"" : "");
    html_text(&p->m, is_refused(p, form) ? typed(p, ASK_CODE) : "");
    textbuf_puts(&p->m, "\"></p>\n");
}

static void put_points(struct page *p) {
    const struct rules *rules = p->rules;
    const char *chosen = typed(p, ASK_POINT);
    label(p, "ask", "point", "ask-point");
    textbuf_printf(&p->m, "<select id=\"ask-point\" name=\"point\"%s>\n<option value=\"\">",
                   fault_is_in(p, "fault-point") ? " aria-invalid=\"true\"" : "");
    say(p, "ask-whole");
    textbuf_puts(&p->m, "</option>\n");
    for (int i = 0; i < rules->scored_count; i++) {
        if (!p->r->snapshot->public_results.view->visible[rules->scored[i].item])
            continue;
        textbuf_puts(&p->m, "<option");
        textbuf_puts(&p->m, strcmp(rules->scored[i].id, chosen) == 0 ? " selected>" : ">");
        html_text(&p->m, rules->scored[i].id);
        textbuf_puts(&p->m, "</option>\n");
    }
    textbuf_puts(&p->m, "</select></p>\n");
}

void put_enquiry_form(struct page *p, int car) {
    form_begin(p, car, "enquiry");
    put_code(p, "ask");
    put_points(p);
    label(p, "ask", "text", "ask-text");
    hint(p, "ask", "text", "ask-text-hint");
    textbuf_printf(&p->m,
                   "<textarea id=\"ask-text\" name=\"text\" required rows=\"5\" maxlength=\"%d\""
                   " aria-describedby=\"ask-text-hint\"%s>\n",
                   LIMIT_CREW_TEXT, fault_is_in(p, "fault-text") ? " aria-invalid=\"true\"" : "");
    html_text(&p->m, typed(p, ASK_TEXT));
    textbuf_puts(&p->m, "</textarea></p>\n<p><button type=\"submit\">");
    say(p, "ask-send");
    textbuf_puts(&p->m, "</button></p>\n</form>\n");
}

static void put_cases_form(struct page *p, int car) {
    textbuf_puts(&p->m, "<h2 id=\"cases\">");
    say(p, "ask-cases");
    textbuf_puts(&p->m, "</h2>\n<p>");
    say(p, "ask-cases-how");
    textbuf_puts(&p->m, "</p>\n");
    form_begin(p, car, "enquiries");
    put_code(p, "cases");
    textbuf_puts(&p->m, "<p><button type=\"submit\">");
    say(p, "ask-look");
    textbuf_puts(&p->m, "</button></p>\n</form>\n");
}

static void put_head(struct page *p, int car, const char *key) {
    textbuf_puts(&p->m, "<h1>");
    say(p, key);
    textbuf_puts(&p->m, "</h1>\n<p class=\"vehicle\">");
    put_plate(p, car);
    textbuf_puts(&p->m, " <a ");
    page_href(p, "cars/%lld", (long long)number_of(p, car));
    textbuf_putc(&p->m, '>');
    put_crew(p, car);
    textbuf_puts(&p->m, "</a></p>\n");
}

static void put_answer(struct page *p, const struct stored_enquiry *e) {
    char key[32];
    if (e->answered_ms == 0) {
        textbuf_puts(&p->m, "<p><strong>");
        say(p, "case-open");
        textbuf_puts(&p->m, "</strong></p>\n");
        return;
    }
    (void)snprintf(key, sizeof key, "case-%s", e->outcome);
    textbuf_puts(&p->m, "<p><strong>");
    say(p, key);
    textbuf_puts(&p->m, "</strong>, ");
    put_moment(p, e->answered_ms);
    textbuf_puts(&p->m, "</p>\n<p class=\"typed\">");
    html_text(&p->m, e->answer);
    textbuf_puts(&p->m, "</p>\n");
}

/* A car's cases, the newest first. */
static void put_cases(struct page *p, int car) {
    const struct noticeboard *board = p->r->snapshot->notices;
    int count = 0;
    put_head(p, car, "ask-cases");
    for (size_t i = board->enquiry_count; i-- > 0;) {
        const struct stored_enquiry *e = &board->enquiries[i];
        char number[24];
        if (stored_enquiry_car(e) != number_of(p, car))
            continue;
        count++;
        (void)snprintf(number, sizeof number, "%lld", (long long)e->number);
        textbuf_printf(&p->m, "<article id=\"case-%s\"><h2>", number);
        say_with(p, strcmp(e->kind, "protest") == 0 ? "case-protest" : "case-enquiry", number, NULL,
                 NULL);
        if (*e->point != '\0') {
            textbuf_puts(&p->m, ": ");
            html_text(&p->m, e->point);
        }
        textbuf_puts(&p->m, "</h2>\n<p class=\"quiet\">");
        put_moment(p, e->opened_ms);
        textbuf_puts(&p->m, "</p>\n<p class=\"typed\">");
        html_text(&p->m, e->text);
        textbuf_puts(&p->m, "</p>\n");
        put_answer(p, e);
        textbuf_puts(&p->m, "</article>\n");
    }
    if (count == 0) {
        textbuf_puts(&p->m, "<p>");
        say(p, "case-none");
        textbuf_puts(&p->m, "</p>\n");
    }
}

/* The case of a receipt's address; NULL where it is none of this car. */
static const struct stored_enquiry *find_receipt(const struct request *r, int64_t car) {
    const struct noticeboard *board = r->snapshot->notices;
    const char *given = request_query(r, "receipt");
    const char *named = request_query(r, "case");
    char right[RECEIPT_LEN + 1];
    int64_t number = 0;
    if (given == NULL || named == NULL ||
        decimal_parse_whole(named, 1, INT32_MAX, &number) != ERR_OK)
        return NULL;
    crew_receipt_make(r->snapshot->keys->codes.secret, car, number, right);
    if (strlen(given) != RECEIPT_LEN || sodium_memcmp(given, right, RECEIPT_LEN) != 0)
        return NULL;
    for (size_t i = 0; i < board->enquiry_count; i++) {
        if (board->enquiries[i].number == number && stored_enquiry_car(&board->enquiries[i]) == car)
            return &board->enquiries[i];
    }
    return NULL;
}

/* The forms of a car, or above the second one what became of the first. */
static void put_forms(struct page *p, int car, const struct stored_enquiry *received) {
    put_head(p, car, received == NULL ? "ask" : "ask-received");
    if (received != NULL) {
        char number[24];
        (void)snprintf(number, sizeof number, "%lld", (long long)received->number);
        textbuf_puts(&p->m, "<p id=\"receipt\">");
        say_with(p, "ask-receipt", number, NULL, NULL);
        textbuf_putc(&p->m, ' ');
        put_moment(p, received->opened_ms);
        textbuf_puts(&p->m, "</p>\n<p>");
        say(p, "ask-receipt-next");
        textbuf_puts(&p->m, "</p>\n");
    } else {
        textbuf_puts(&p->m, "<p>");
        say(p, "ask-how");
        textbuf_puts(&p->m, "</p>\n");
        put_enquiry_form(p, car);
    }
    put_cases_form(p, car);
}

unsigned page_enquiry(struct request *r, struct textbuf *b) {
    struct page p;
    int car = -1;
    unsigned status = request_car(r, &car);
    if (status != 0)
        return status;
    const struct stored_enquiry *received =
        find_receipt(r, r->snapshot->event.entries->list[car].number);
    if (received == NULL && request_query(r, "receipt") != NULL)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no such receipt.");
    page_begin(&p, r, r->results->view);
    put_forms(&p, car, received);
    return page_finish(
        &p, b,
        &(struct page_frame){.title = said(&p, received == NULL ? "ask" : "ask-received"),
                             .sends = true});
}

/* The page that tells what is wrong with a form, with what was typed still in it. */
static void page_form_refused(struct request *r, struct textbuf *b, unsigned status) {
    const char *fault = r->form.fault != NULL          ? r->form.fault
                        : status == MHD_HTTP_CONFLICT  ? "fault-open"
                        : status == MHD_HTTP_FORBIDDEN ? "fault-code-wrong"
                                                       : "fault-busy";
    struct page p;
    int car = -1;
    if (request_car(r, &car) != 0) {
        page_problem(r, b, status);
        return;
    }
    r->form.fault = fault;
    page_begin(&p, r, r->snapshot->public_results.view);
    textbuf_puts(&p.m, "<div class=\"fault\" role=\"alert\"><p><strong>");
    say(&p, "ask-fault");
    textbuf_puts(&p.m, "</strong> ");
    say(&p, fault);
    textbuf_puts(&p.m, "</p></div>\n");
    put_forms(&p, car, NULL);
    (void)page_finish(&p, b, &(struct page_frame){.title = said(&p, "ask-fault"), .sends = true});
}

/* ---- what the forms send ---- */

/* The word that tells a fault. */
static const char *const fault_words[CREW_FAULT_COUNT] = {
    [CREW_CROSS_SITE] = "fault-foreign",    [CREW_CODE_MISSING] = "fault-code-missing",
    [CREW_CODE_WAIT] = "fault-code-wait",   [CREW_CODE_WRONG] = "fault-code-wrong",
    [CREW_POINT_UNKNOWN] = "fault-point",   [CREW_TEXT_MISSING] = "fault-text-missing",
    [CREW_TEXT_SIGNS] = "fault-text-signs", [CREW_TEXT_LONG] = "fault-text-long"};

/* Takes a form's body apart; from here on errors are told by its page, in the language that it
 * names. Returns 0, or the status of an error described. */
static unsigned read_form(struct request *r, size_t count) {
    enum lang lang;
    if (!request_has_type(r, MHD_HTTP_POST_ENCODING_FORM_URLENCODED))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send the form as application/x-www-form-urlencoded.");
    int err = form_body_read(&r->form, r->body, r->body_len, field_names, count);
    if (err == ERR_NOMEM)
        return request_no_memory(r);
    if (err != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "This is not what the form of the page sends.");
    r->error_page = page_form_refused;
    if (lang_parse(r->form.values[ASK_LANG], &lang) == ERR_OK)
        r->query[0] = lang_code(lang);
    return 0;
}

static unsigned prepare_enquiry(struct request *r, struct write **out) {
    enum crew_fault fault = CREW_NO_FAULT;
    unsigned status = read_form(r, ASK_FIELD_COUNT);
    if (status != 0)
        return status;
    /* The form's text is its own memory, which lives as long as the request. */
    status = crew_ask(r, r->form.values[ASK_CODE], r->form.values[ASK_POINT],
                      (char *)r->form.values[ASK_TEXT], &fault, out);
    r->form.fault = fault_words[fault];
    return status;
}

static void answer_enquiry(struct request *r, const struct write *head, struct textbuf *b) {
    const struct crew_enquiry_write *write = crew_enquiry_write_of(head);
    char receipt[RECEIPT_LEN + 1];
    crew_receipt_make(r->snapshot->keys->codes.secret, write->car, write->number, receipt);
    textbuf_printf(b, "/%s/cars/%lld/enquiry?case=%lld&receipt=%s", r->served->slug,
                   (long long)write->car, (long long)write->number, receipt);
    if (request_names_language(r))
        textbuf_printf(b, "&lang=%s", lang_code(request_language(r)));
}

const struct write_handler page_enquiry_form = {
    .prepare = prepare_enquiry, .answer = answer_enquiry, .redirects = true};

unsigned page_enquiry_cases(struct request *r, struct textbuf *b) {
    enum crew_fault fault = CREW_NO_FAULT;
    struct page p;
    int64_t number = 0;
    int car = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status = read_form(r, ASK_LANG + 1);
    if (status == 0)
        status = crew_identify(r, r->form.values[ASK_CODE], &number, &fault);
    r->form.fault = fault_words[fault];
    if (status != 0)
        return status;
    page_begin(&p, r, r->snapshot->public_results.view);
    put_cases(&p, car);
    return page_finish(&p, b, &(struct page_frame){.title = said(&p, "ask-cases"), .sends = true});
}
