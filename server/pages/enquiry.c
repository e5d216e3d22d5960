/* SPDX-License-Identifier: MIT */
/* A crew asks about its card, without JavaScript: the form, its receipt, what is wrong with it,
 * the cases with their answers. */
#include <sodium.h>
#include <string.h>

#include "api/arguments.h"
#include "api/crew.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/car_route.h"
#include "live/write.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/templates.h"
#include "store/crew_code.h"
#include "store/stored_enquiries.h"
#include "system/hard_limits.h"

/* Fields of the forms; that of the cases has the first two only. */
enum { ASK_CODE, ASK_LANG, ASK_POINT, ASK_TEXT, ASK_FIELD_COUNT };
static const char *const field_names[ASK_FIELD_COUNT] = {"code", "lang", "point", "text"};

/* ---- what the templates show ---- */

struct enquiry_point {
    const char *id;
    bool chosen;
};

struct enquiry_form_content {
    struct address to;
    const char *lang; /* goes with it, so that the answer is in it too */
    const char *code;
    bool code_wrong;
    struct template_rows points;
    bool point_wrong;
    const char *text;
    bool text_wrong;
    int64_t text_max; /* characters */
};

struct enquiry_content {
    const char *fault; /* NULL for none */
    int64_t number;    /* of the car */
    struct address card;
    struct markup crew;
    struct markup form;
    int64_t received; /* number of the case that was; 0: none */
    int64_t opened;
    /* The form that asks for cases. */
    struct address cases;
    const char *lang;
    const char *code;
    bool code_wrong;
};

struct case_content {
    int64_t number;
    bool protest;
    const char *point;
    const char *text;
    int64_t opened;
    int64_t answered; /* 0: not yet */
    const char *outcome;
    const char *answer;
};

struct cases_content {
    int64_t number; /* of the car */
    struct address card;
    struct markup crew;
    struct template_rows cases;
};

static const struct template_hole point_holes[] = {
    TEMPLATE_HOLE(struct enquiry_point, id), TEMPLATE_HOLE(struct enquiry_point, chosen), {0}};

static const struct template_hole enquiry_form_holes[] = {
    TEMPLATE_HOLE(struct enquiry_form_content, to),
    TEMPLATE_HOLE(struct enquiry_form_content, lang),
    TEMPLATE_HOLE(struct enquiry_form_content, code),
    TEMPLATE_HOLE(struct enquiry_form_content, code_wrong),
    TEMPLATE_EACH(struct enquiry_form_content, points, point_holes),
    TEMPLATE_HOLE(struct enquiry_form_content, point_wrong),
    TEMPLATE_HOLE(struct enquiry_form_content, text),
    TEMPLATE_HOLE(struct enquiry_form_content, text_wrong),
    TEMPLATE_HOLE(struct enquiry_form_content, text_max),
    {0}};

static const struct template_hole enquiry_holes[] = {
    TEMPLATE_HOLE(struct enquiry_content, fault),
    TEMPLATE_HOLE(struct enquiry_content, number),
    TEMPLATE_HOLE(struct enquiry_content, card),
    TEMPLATE_HOLE(struct enquiry_content, crew),
    TEMPLATE_HOLE(struct enquiry_content, form),
    TEMPLATE_HOLE(struct enquiry_content, received),
    TEMPLATE_HOLE(struct enquiry_content, opened),
    TEMPLATE_HOLE(struct enquiry_content, cases),
    TEMPLATE_HOLE(struct enquiry_content, lang),
    TEMPLATE_HOLE(struct enquiry_content, code),
    TEMPLATE_HOLE(struct enquiry_content, code_wrong),
    {0}};

static const struct template_hole case_holes[] = {TEMPLATE_HOLE(struct case_content, number),
                                                  TEMPLATE_HOLE(struct case_content, protest),
                                                  TEMPLATE_HOLE(struct case_content, point),
                                                  TEMPLATE_HOLE(struct case_content, text),
                                                  TEMPLATE_HOLE(struct case_content, opened),
                                                  TEMPLATE_HOLE(struct case_content, answered),
                                                  TEMPLATE_HOLE(struct case_content, outcome),
                                                  TEMPLATE_HOLE(struct case_content, answer),
                                                  {0}};

static const struct template_hole cases_holes[] = {
    TEMPLATE_HOLE(struct cases_content, number),
    TEMPLATE_HOLE(struct cases_content, card),
    TEMPLATE_HOLE(struct cases_content, crew),
    TEMPLATE_EACH(struct cases_content, cases, case_holes),
    {0}};

struct template enquiry_form_template = {.file = "web/board/templates/enquiry-form.html",
                                         .holes = enquiry_form_holes};
struct template enquiry_template = {.file = "web/board/templates/enquiry.html",
                                    .holes = enquiry_holes};
struct template cases_template = {.file = "web/board/templates/cases.html", .holes = cases_holes};

/* ---- the forms ---- */

static int64_t number_of(const struct page *p, int car) {
    return p->event->entries->list[car].number;
}

/* Where a form of a car is posted to: a place behind its card's address. */
static struct address form_address(struct page *p, int car, const char *place) {
    return page_local(p, "/%s/cars/%lld/%s", p->rules->slug, (long long)number_of(p, car), place);
}

static struct address card_address(struct page *p, int car) {
    return page_address(p, "cars/%lld", (long long)number_of(p, car));
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

/* The visible points of a car's route, with the one that was chosen; false when memory is out. */
static bool list_points(struct page *p, int car, struct template_rows *out) {
    const struct rules *rules = p->rules;
    const struct view *view = p->r->snapshot->public_results.view;
    const char *chosen = typed(p, ASK_POINT);
    struct enquiry_point *points = request_array(p->r, (size_t)rules->scored_count, sizeof *points);
    if (points == NULL)
        return false;
    *out = (struct template_rows)TEMPLATE_ROWS_OF(points, 0);
    for (int i = 0; i < rules->scored_count; i++) {
        const char *id = rules->scored[i].id;
        if (view->visible[rules->scored[i].item] &&
            car_point_is_on(p->event, car, rules->scored[i].point))
            points[out->count++] = (struct enquiry_point){id, strcmp(id, chosen) == 0};
    }
    return true;
}

static void put_enquiry_form(struct page *p, const void *of) {
    const int *car = of;
    bool refused = is_refused(p, "ask");
    struct enquiry_form_content content = {
        .to = form_address(p, *car, "enquiry"),
        .lang = lang_code(p->lang),
        .code = refused ? typed(p, ASK_CODE) : "",
        .code_wrong = refused && fault_is_in(p, "fault-code"),
        .point_wrong = fault_is_in(p, "fault-point"),
        .text = typed(p, ASK_TEXT),
        .text_wrong = fault_is_in(p, "fault-text"),
        .text_max = LIMIT_CREW_TEXT,
    };
    if (list_points(p, *car, &content.points))
        template_write(p, &enquiry_form_template, &content);
    else
        p->m.failed = true;
}

struct markup enquiry_form_markup(const int *car) {
    return (struct markup){put_enquiry_form, car};
}

/* The forms of a car; in place of the first one, what was received by it. */
static void put_forms(struct page *p, int car, const char *fault,
                      const struct stored_enquiry *received) {
    bool refused = is_refused(p, "cases");
    const struct enquiry_content content = {
        .fault = fault == NULL ? NULL : said(p, fault),
        .number = number_of(p, car),
        .card = card_address(p, car),
        .crew = crew_markup(&p->event->entries->list[car]),
        .form = enquiry_form_markup(&car),
        .received = received == NULL ? 0 : received->number,
        .opened = received == NULL ? 0 : received->opened_ms,
        .cases = form_address(p, car, "enquiries"),
        .lang = lang_code(p->lang),
        .code = refused ? typed(p, ASK_CODE) : "",
        .code_wrong = refused && fault_is_in(p, "fault-code"),
    };
    template_write(p, &enquiry_template, &content);
}

/* ---- cases ---- */

static void fill_case(struct page *p, const struct stored_enquiry *e, struct case_content *out) {
    *out = (struct case_content){
        .number = e->number,
        .protest = strcmp(e->kind, "protest") == 0,
        .point = e->point,
        .text = e->text,
        .opened = e->opened_ms,
        .answered = e->answered_ms,
        .outcome = e->answered_ms == 0 ? NULL : said_of(p, "case", e->outcome),
        .answer = e->answer,
    };
}

/* A car's cases, the newest first; false when memory is out. */
static bool put_cases(struct page *p, int car) {
    const struct noticeboard *board = p->r->snapshot->notices;
    struct case_content *cases = request_array(p->r, board->enquiry_count, sizeof *cases);
    if (cases == NULL)
        return false;
    struct cases_content content = {.number = number_of(p, car),
                                    .card = card_address(p, car),
                                    .crew = crew_markup(&p->event->entries->list[car]),
                                    .cases = TEMPLATE_ROWS_OF(cases, 0)};
    for (size_t i = board->enquiry_count; i-- > 0;) {
        const struct stored_enquiry *e = &board->enquiries[i];
        if (stored_enquiry_car(e) == number_of(p, car))
            fill_case(p, e, &cases[content.cases.count++]);
    }
    template_write(p, &cases_template, &content);
    return true;
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
    put_forms(&p, car, NULL, received);
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
    put_forms(&p, car, fault, NULL);
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
    if (!put_cases(&p, car))
        return page_give_up(&p);
    return page_finish(&p, b, &(struct page_frame){.title = said(&p, "ask-cases"), .sends = true});
}
