/* SPDX-License-Identifier: MIT */
#include "site/routes.h"

#include "api/api.h"
#include "pages/pages.h"
#include "pages/templates.h"
#include "system/hard_limits.h"

static const char *const table_parameters[] = {"by", "class", "after", "format", NULL};
static const char *const paper_parameters[] = {"by", "class", "after", NULL};
static const char *const after_only[] = {"after", NULL};
static const char *const format_parameters[] = {"format", NULL};
static const char *const after_parameters[] = {"after", "format", NULL};
/* A page's `lang` is what it is written in; see answer.c. */
static const char *const board_parameters[] = {"by", "class", "after", "view", "q", "lang", NULL};
static const char *const figures_parameters[] = {"by", "class", "after", "view", "lang", NULL};
static const char *const compare_parameters[] = {"cars", "add", "lang", NULL};
static const char *const car_parameters[] = {"car", "lang", NULL};
static const char *const card_parameters[] = {"after", "lang", NULL};
static const char *const qr_parameters[] = {"to", "lang", NULL};
static const char *const lang_only[] = {"lang", NULL};
static const char *const reading_parameters[] = {"point", "car", "after", NULL};
static const char *const receipt_parameters[] = {"case", "receipt", "lang", NULL};
static const char *const note_parameters[] = {"by", "reason", "since", NULL};
static const char *const log_parameters[] = {"before", "limit",  "kind", "car",
                                             "text",   "format", NULL};
static const char *const point_parameters[] = {"point", NULL};
static const char *const desk_paper_parameters[] = {"point", "phone", "lang", NULL};

/* How a route is answered; see enum handler_sort. */
#define READ(function)                                                                             \
    { .sort = HANDLER_READ, .read = (function) }
#define ACT(function)                                                                              \
    { .sort = HANDLER_ACTION, .act = (function) }
#define WRITE(handler)                                                                             \
    { .sort = HANDLER_WRITE, .write = &(handler) }
#define STREAM                                                                                     \
    { .sort = HANDLER_STREAM }

/* Method, pattern, role, bytes of a body, parameters, handler, flags. What a form of a page sends
 * has its language first among its parameters, since the form names it too. */
static const struct route routes[] = {
    {"GET", "/healthz", ROLE_PUBLIC, 0, NULL, READ(api_health),
     ROUTE_FRESH | ROUTE_AT_ONCE | ROUTE_CROWDED},
    {"GET", "/metrics", ROLE_PUBLIC, 0, NULL, READ(api_metrics), ROUTE_LOCAL | ROUTE_AT_ONCE},
    {"GET", "/api/v1/openapi.yaml", ROLE_PUBLIC, 0, NULL, READ(api_openapi), ROUTE_CONSTANT},
    {"GET", "/api/v1/events", ROLE_PUBLIC, 0, NULL, READ(api_events), 0},
    {"GET", "/api/v1/events/{}", ROLE_PUBLIC, 0, NULL, READ(api_event), 0},
    {"GET", "/api/v1/events/{}/standings", ROLE_PUBLIC, 0, table_parameters, READ(api_standings),
     0},
    {"GET", "/api/v1/events/{}/board", ROLE_PUBLIC, 0, figures_parameters, READ(page_figures), 0},
    {"GET", "/api/v1/events/{}/cars/{}", ROLE_PUBLIC, 0, after_parameters, READ(api_card), 0},
    {"GET", "/api/v1/events/{}/tests/{}", ROLE_PUBLIC, 0, format_parameters, READ(api_test), 0},
    {"GET", "/api/v1/events/{}/starts/{}", ROLE_PUBLIC, 0, format_parameters, READ(api_starts), 0},
    {"GET", "/api/v1/events/{}/notices", ROLE_PUBLIC, 0, format_parameters, READ(api_notices), 0},
    {"GET", "/api/v1/events/{}/notices/{}", ROLE_PUBLIC, 0, NULL, READ(api_notice), 0},
    {"GET", "/api/v1/events/{}/stream", ROLE_PUBLIC, 0, NULL, STREAM, ROUTE_CROWDED},
    {"POST", "/api/v1/events/{}/readings", ROLE_TIMEKEEPER, LIMIT_BODY_READINGS, NULL,
     WRITE(write_readings), 0},
    {"POST", "/api/v1/events/{}/decisions", ROLE_ORGANISER, LIMIT_BODY_DECISIONS, NULL,
     WRITE(write_decisions), 0},
    {"PUT", "/api/v1/events/{}/entries", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, note_parameters,
     WRITE(write_entries), 0},
    {"PUT", "/api/v1/events/{}/rules", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, note_parameters,
     WRITE(write_rules), 0},
    {"POST", "/api/v1/events/{}/starts/{}", ROLE_ORGANISER, LIMIT_BODY_STARTS, NULL,
     WRITE(write_starts), 0},
    {"POST", "/api/v1/events/{}/notices", ROLE_ORGANISER, LIMIT_BODY_NOTICE, NULL,
     WRITE(write_notice), 0},
    {"GET", "/api/v1/events/{}/classifications/{}", ROLE_ORGANISER, 0, NULL,
     READ(api_classification), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/enquiries", ROLE_ORGANISER, 0, NULL, READ(api_enquiries), 0},
    {"POST", "/api/v1/events/{}/enquiries", ROLE_ORGANISER, LIMIT_BODY_NOTICE, NULL,
     WRITE(write_enquiry), 0},
    {"POST", "/api/v1/events/{}/enquiries/{}", ROLE_ORGANISER, LIMIT_BODY_NOTICE, NULL,
     WRITE(write_answer), 0},
    {"GET", "/api/v1/events/{}/codes", ROLE_ORGANISER, 0, format_parameters, READ(api_codes), 0},
    {"POST", "/api/v1/events/{}/codes/{}", ROLE_ORGANISER, LIMIT_BODY_KEY, NULL,
     WRITE(write_code_renewal), 0},
    {"POST", "/api/v1/events/{}/cars/{}/enquiries", ROLE_PUBLIC, LIMIT_BODY_CREW, NULL,
     WRITE(write_crew_enquiry), 0},
    {"POST", "/api/v1/events/{}/cars/{}/cases", ROLE_PUBLIC, LIMIT_BODY_KEY, NULL,
     ACT(act_crew_cases), 0},
    {"GET", "/api/v1/events/{}/clock", ROLE_PUBLIC, 0, NULL, READ(api_clock),
     ROUTE_FRESH | ROUTE_AT_ONCE},
    {"GET", "/api/v1/events/{}/desk", ROLE_TIMEKEEPER, 0, NULL, READ(api_desk), 0},
    {"GET", "/api/v1/events/{}/expected", ROLE_TIMEKEEPER, 0, point_parameters, READ(api_expected),
     0},
    {"GET", "/api/v1/events/{}/rules", ROLE_ORGANISER, 0, NULL, READ(api_rules), 0},
    {"GET", "/api/v1/events/{}/entries", ROLE_ORGANISER, 0, NULL, READ(api_entries), 0},
    {"GET", "/api/v1/events/{}/decisions", ROLE_ORGANISER, 0, NULL, READ(api_decisions), 0},
    {"GET", "/api/v1/events/{}/readings", ROLE_ORGANISER, 0, reading_parameters, READ(api_readings),
     0},
    {"GET", "/api/v1/events/{}/points", ROLE_ORGANISER, 0, NULL, READ(api_points), 0},
    {"GET", "/api/v1/events/{}/road", ROLE_ORGANISER, 0, NULL, READ(api_road), 0},
    {"POST", "/api/v1/events/{}/rules/try", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, NULL,
     ACT(act_try_rules), 0},
    {"POST", "/api/v1/events/{}/entries/try", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, NULL,
     ACT(act_try_entries), 0},
    {"POST", "/api/v1/events/{}/entries/import", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, NULL,
     ACT(act_import_entries), 0},
    {"POST", "/api/v1/events/{}/entries/number", ROLE_ORGANISER, LIMIT_BODY_KEY, NULL,
     ACT(act_number_entries), 0},
    {"POST", "/api/v1/events/{}/rules/examples/{}", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, NULL,
     ACT(act_examples), 0},
    {"POST", "/api/v1/events/{}/effects", ROLE_ORGANISER, LIMIT_BODY_DECISIONS, NULL,
     ACT(act_effects), 0},
    {"GET", "/api/v1/events/{}/doubts", ROLE_ORGANISER, 0, NULL, READ(api_doubts), 0},
    {"POST", "/api/v1/events/{}/doubts", ROLE_ORGANISER, LIMIT_BODY_KEY, NULL,
     WRITE(write_acknowledgement), 0},
    {"GET", "/api/v1/events/{}/refusals", ROLE_ORGANISER, 0, NULL, READ(api_refusals), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/acknowledgements", ROLE_ORGANISER, 0, NULL,
     READ(api_acknowledgements), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/log", ROLE_ORGANISER, 0, log_parameters, READ(api_log), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/log/{}", ROLE_ORGANISER, 0, NULL, READ(api_log_entry), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/prizes", ROLE_ORGANISER, 0, format_parameters, READ(api_prizes), 0},
    {"GET", "/api/v1/events/{}/facts/{}", ROLE_ORGANISER, 0, NULL, READ(api_facts), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/paper/notices/{}", ROLE_PUBLIC, 0, NULL, READ(paper_notice),
     ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/paper/standings", ROLE_PUBLIC, 0, paper_parameters,
     READ(paper_standings), ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/paper/starts/{}", ROLE_PUBLIC, 0, NULL, READ(paper_starts),
     ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/paper/cars/{}", ROLE_PUBLIC, 0, after_only, READ(paper_card),
     ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/paper/control", ROLE_ORGANISER, 0, point_parameters,
     READ(paper_control), ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/paper/desk", ROLE_ORGANISER, 0, desk_paper_parameters,
     READ(paper_desk), ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/paper/prizes", ROLE_ORGANISER, 0, NULL, READ(paper_prizes),
     ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/paper/codes", ROLE_ORGANISER, 0, NULL, READ(paper_codes),
     ROUTE_PAPER},
    {"GET", "/api/v1/events/{}/desks", ROLE_ORGANISER, 0, NULL, READ(api_desks), ROUTE_FRESH},
    {"POST", "/api/v1/events/{}/desks/{}", ROLE_TIMEKEEPER, LIMIT_BODY_DESK, NULL,
     ACT(act_desk_report), ROUTE_AT_ONCE},
    {"GET", "/api/v1/events/{}/status", ROLE_ORGANISER, 0, NULL, READ(api_status), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/flags", ROLE_ORGANISER, 0, NULL, READ(api_flags), ROUTE_FRESH},
    {"GET", "/api/v1/events/{}/keys", ROLE_ORGANISER, 0, NULL, READ(api_keys), ROUTE_FRESH},
    {"POST", "/api/v1/events/{}/keys", ROLE_ORGANISER, LIMIT_BODY_KEY, NULL, WRITE(write_key), 0},
    {"POST", "/api/v1/events/{}/keys/{}", ROLE_ORGANISER, LIMIT_BODY_KEY, NULL,
     WRITE(write_revocation), 0},
    {"GET", "/", ROLE_PUBLIC, 0, lang_only, READ(page_events), 0},
    {"GET", "/{}/", ROLE_PUBLIC, 0, board_parameters, READ(page_standings), 0},
    {"GET", "/{}/screen", ROLE_PUBLIC, 0, lang_only, READ(page_screen), 0},
    {"GET", "/{}/event", ROLE_PUBLIC, 0, lang_only, READ(page_event), 0},
    {"GET", "/{}/cars/{}", ROLE_PUBLIC, 0, card_parameters, READ(page_card), 0},
    {"GET", "/{}/cars/{}/enquiry", ROLE_PUBLIC, 0, receipt_parameters, READ(page_enquiry),
     ROUTE_FRESH},
    {"GET", "/{}/cars/{}/enquiries", ROLE_PUBLIC, 0, lang_only, READ(page_enquiry), ROUTE_FRESH},
    {"POST", "/{}/cars/{}/enquiry", ROLE_PUBLIC, LIMIT_BODY_CREW, lang_only,
     WRITE(page_enquiry_form), 0},
    {"POST", "/{}/cars/{}/enquiries", ROLE_PUBLIC, LIMIT_BODY_KEY, lang_only,
     ACT(page_enquiry_cases), 0},
    {"GET", "/{}/compare", ROLE_PUBLIC, 0, compare_parameters, READ(page_compare), 0},
    {"GET", "/{}/tests/{}", ROLE_PUBLIC, 0, car_parameters, READ(page_test), 0},
    {"GET", "/{}/starts/{}", ROLE_PUBLIC, 0, lang_only, READ(page_starts), 0},
    {"GET", "/{}/notices", ROLE_PUBLIC, 0, lang_only, READ(page_notices), 0},
    {"GET", "/{}/board-worker.js", ROLE_PUBLIC, 0, NULL, READ(page_board_worker), 0},
    {"GET", "/{}/qr", ROLE_PUBLIC, 0, qr_parameters, READ(page_qr), 0},
    {"GET", "/{}/control", ROLE_PUBLIC, 0, NULL, READ(page_desk), 0},
    {"GET", "/{}/worker.js", ROLE_PUBLIC, 0, NULL, READ(page_desk_worker), 0},
    {"GET", "/{}/office", ROLE_PUBLIC, 0, NULL, READ(page_office), 0},
    {"GET", "/_/{}/{}", ROLE_PUBLIC, 0, NULL, READ(page_asset), ROUTE_EVENTLESS | ROUTE_CONSTANT},
};

const struct app site_app = {.routes = {routes, sizeof routes / sizeof routes[0]},
                             .problem_page = page_problem,
                             .prepare = templates_load};
