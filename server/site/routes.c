/* SPDX-License-Identifier: MIT */
/* The route table: every address of the server with its method, role and limits. */
#include <stdio.h>
#include <string.h>

#include "api/api.h"
#include "api/api_cases.h"
#include "api/api_classification.h"
#include "api/api_codes.h"
#include "api/api_desk.h"
#include "api/api_facts.h"
#include "api/api_keys.h"
#include "api/api_list.h"
#include "api/api_log.h"
#include "api/api_notices.h"
#include "api/api_office.h"
#include "api/api_paper.h"
#include "api/api_proposal.h"
#include "api/api_review.h"
#include "api/api_status.h"
#include "api/crew.h"
#include "api/writes.h"
#include "http/http.h"
#include "http/stream.h"
#include "pages/pages.h"
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

#define READ(pattern_, parameters_, render_)                                                       \
    { .method = "GET", .pattern = (pattern_), .parameters = (parameters_), .render = (render_) }
#define WRITE(method_, pattern_, role_, limit_, write_, tell_)                                     \
    {                                                                                              \
        .method = (method_), .pattern = (pattern_), .role = (role_), .body_limit = (limit_),       \
        .write = (write_), .tell = (tell_)                                                         \
    }

/* A document, with who replaces it and why. */
#define NOTED(method_, pattern_, role_, limit_, write_, tell_)                                     \
    {                                                                                              \
        .method = (method_), .pattern = (pattern_), .role = (role_), .body_limit = (limit_),       \
        .parameters = note_parameters, .write = (write_), .tell = (tell_)                          \
    }

#define KEYED(pattern_, role_, parameters_, render_)                                               \
    {                                                                                              \
        .method = "GET", .pattern = (pattern_), .role = (role_), .parameters = (parameters_),      \
        .render = (render_)                                                                        \
    }
/* Answers that depend on more than the event's revision. */
#define FRESH(pattern_, role_, render_)                                                            \
    { .method = "GET", .pattern = (pattern_), .role = (role_), .render = (render_), .fresh = true }
#define LISTED(pattern_, role_, parameters_, render_)                                              \
    {                                                                                              \
        .method = "GET", .pattern = (pattern_), .role = (role_), .parameters = (parameters_),      \
        .render = (render_), .fresh = true                                                         \
    }
#define PAPER(pattern_, role_, parameters_, render_)                                               \
    {                                                                                              \
        .method = "GET", .pattern = (pattern_), .role = (role_), .parameters = (parameters_),      \
        .render = (render_), .paper = true                                                         \
    }
#define ACT(method_, pattern_, role_, limit_, act_)                                                \
    {                                                                                              \
        .method = (method_), .pattern = (pattern_), .role = (role_), .body_limit = (limit_),       \
        .act = (act_)                                                                              \
    }
#define ACT_AT_ONCE(method_, pattern_, role_, limit_, act_)                                        \
    {                                                                                              \
        .method = (method_), .pattern = (pattern_), .role = (role_), .body_limit = (limit_),       \
        .act = (act_), .at_once = true                                                             \
    }

/* A form of a page: sent by its button, answered by a page. Its language stands first among its
 * parameters, since the form names it too. */
#define FORM(pattern_, limit_)                                                                     \
    .method = "POST", .pattern = (pattern_), .role = ROLE_PUBLIC, .body_limit = (limit_),          \
    .parameters = lang_only, .refused = page_enquiry_refused

const struct route routes[] = {
    {.method = "GET",
     .pattern = "/healthz",
     .render = api_health,
     .fresh = true,
     .at_once = true,
     .always = true},
    {.method = "GET", .pattern = "/metrics", .render = api_metrics, .local = true, .at_once = true},
    {.method = "GET", .pattern = "/api/v1/openapi.yaml", .render = api_openapi, .constant = true},
    READ("/api/v1/events", NULL, api_events),
    READ("/api/v1/events/{}", NULL, api_event),
    READ("/api/v1/events/{}/standings", table_parameters, api_standings),
    READ("/api/v1/events/{}/board", figures_parameters, page_figures),
    READ("/api/v1/events/{}/cars/{}", after_parameters, api_card),
    READ("/api/v1/events/{}/tests/{}", format_parameters, api_test),
    READ("/api/v1/events/{}/starts/{}", format_parameters, api_starts),
    READ("/api/v1/events/{}/notices", format_parameters, api_notices),
    READ("/api/v1/events/{}/notices/{}", NULL, api_notice),
    {.method = "GET", .pattern = "/api/v1/events/{}/stream", .special = stream_open},
    WRITE("POST", "/api/v1/events/{}/readings", ROLE_TIMEKEEPER, LIMIT_BODY_READINGS,
          write_readings, tell_rows),
    WRITE("POST", "/api/v1/events/{}/decisions", ROLE_ORGANISER, LIMIT_BODY_DECISIONS,
          write_decisions, tell_rows),
    NOTED("PUT", "/api/v1/events/{}/entries", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, write_entries,
          tell_document),
    NOTED("PUT", "/api/v1/events/{}/rules", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, write_rules,
          tell_document),
    WRITE("POST", "/api/v1/events/{}/starts/{}", ROLE_ORGANISER, LIMIT_BODY_STARTS, write_starts,
          tell_starts),
    WRITE("POST", "/api/v1/events/{}/notices", ROLE_ORGANISER, LIMIT_BODY_NOTICE, write_notice,
          tell_notice),
    FRESH("/api/v1/events/{}/classifications/{}", ROLE_ORGANISER, api_classification),
    KEYED("/api/v1/events/{}/enquiries", ROLE_ORGANISER, NULL, api_enquiries),
    WRITE("POST", "/api/v1/events/{}/enquiries", ROLE_ORGANISER, LIMIT_BODY_NOTICE, write_enquiry,
          tell_notice),
    WRITE("POST", "/api/v1/events/{}/enquiries/{}", ROLE_ORGANISER, LIMIT_BODY_NOTICE, write_answer,
          tell_notice),
    KEYED("/api/v1/events/{}/codes", ROLE_ORGANISER, format_parameters, api_codes),
    WRITE("POST", "/api/v1/events/{}/codes/{}", ROLE_ORGANISER, LIMIT_BODY_KEY, write_code_renewal,
          tell_code),
    WRITE("POST", "/api/v1/events/{}/cars/{}/enquiries", ROLE_PUBLIC, LIMIT_BODY_CREW,
          write_crew_enquiry, tell_crew_enquiry),
    ACT("POST", "/api/v1/events/{}/cars/{}/cases", ROLE_PUBLIC, LIMIT_BODY_KEY, act_crew_cases),
    {.method = "GET",
     .pattern = "/api/v1/events/{}/clock",
     .render = api_clock,
     .fresh = true,
     .at_once = true},
    KEYED("/api/v1/events/{}/desk", ROLE_TIMEKEEPER, NULL, api_desk),
    KEYED("/api/v1/events/{}/expected", ROLE_TIMEKEEPER, point_parameters, api_expected),
    KEYED("/api/v1/events/{}/rules", ROLE_ORGANISER, NULL, api_rules),
    KEYED("/api/v1/events/{}/entries", ROLE_ORGANISER, NULL, api_entries),
    KEYED("/api/v1/events/{}/decisions", ROLE_ORGANISER, NULL, api_decisions),
    KEYED("/api/v1/events/{}/readings", ROLE_ORGANISER, reading_parameters, api_readings),
    KEYED("/api/v1/events/{}/points", ROLE_ORGANISER, NULL, api_points),
    KEYED("/api/v1/events/{}/road", ROLE_ORGANISER, NULL, api_road),
    ACT("POST", "/api/v1/events/{}/rules/try", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT, act_try_rules),
    ACT("POST", "/api/v1/events/{}/entries/try", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT,
        act_try_entries),
    ACT("POST", "/api/v1/events/{}/entries/import", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT,
        act_import_entries),
    ACT("POST", "/api/v1/events/{}/entries/number", ROLE_ORGANISER, LIMIT_BODY_KEY,
        act_number_entries),
    ACT("POST", "/api/v1/events/{}/rules/examples/{}", ROLE_ORGANISER, LIMIT_BODY_DOCUMENT,
        act_examples),
    ACT("POST", "/api/v1/events/{}/effects", ROLE_ORGANISER, LIMIT_BODY_DECISIONS, act_effects),
    KEYED("/api/v1/events/{}/doubts", ROLE_ORGANISER, NULL, api_doubts),
    WRITE("POST", "/api/v1/events/{}/doubts", ROLE_ORGANISER, LIMIT_BODY_KEY, write_acknowledgement,
          tell_document),
    FRESH("/api/v1/events/{}/refusals", ROLE_ORGANISER, api_refusals),
    FRESH("/api/v1/events/{}/acknowledgements", ROLE_ORGANISER, api_acknowledgements),
    LISTED("/api/v1/events/{}/log", ROLE_ORGANISER, log_parameters, api_log),
    FRESH("/api/v1/events/{}/log/{}", ROLE_ORGANISER, api_log_entry),
    KEYED("/api/v1/events/{}/prizes", ROLE_ORGANISER, format_parameters, api_prizes),
    FRESH("/api/v1/events/{}/facts/{}", ROLE_ORGANISER, api_facts),
    PAPER("/api/v1/events/{}/paper/notices/{}", ROLE_PUBLIC, NULL, paper_notice),
    PAPER("/api/v1/events/{}/paper/standings", ROLE_PUBLIC, paper_parameters, paper_standings),
    PAPER("/api/v1/events/{}/paper/starts/{}", ROLE_PUBLIC, NULL, paper_starts),
    PAPER("/api/v1/events/{}/paper/cars/{}", ROLE_PUBLIC, after_only, paper_card),
    PAPER("/api/v1/events/{}/paper/control", ROLE_ORGANISER, point_parameters, paper_control),
    PAPER("/api/v1/events/{}/paper/prizes", ROLE_ORGANISER, NULL, paper_prizes),
    PAPER("/api/v1/events/{}/paper/codes", ROLE_ORGANISER, NULL, paper_codes),
    FRESH("/api/v1/events/{}/desks", ROLE_ORGANISER, api_desks),
    ACT_AT_ONCE("POST", "/api/v1/events/{}/desks/{}", ROLE_TIMEKEEPER, LIMIT_BODY_DESK,
                act_desk_report),
    FRESH("/api/v1/events/{}/status", ROLE_ORGANISER, api_status),
    FRESH("/api/v1/events/{}/flags", ROLE_ORGANISER, api_flags),
    FRESH("/api/v1/events/{}/keys", ROLE_ORGANISER, api_keys),
    WRITE("POST", "/api/v1/events/{}/keys", ROLE_ORGANISER, LIMIT_BODY_KEY, write_key, tell_key),
    WRITE("POST", "/api/v1/events/{}/keys/{}", ROLE_ORGANISER, LIMIT_BODY_KEY, write_revocation,
          tell_document),
    READ("/", lang_only, page_events),
    READ("/{}/", board_parameters, page_standings),
    READ("/{}/screen", lang_only, page_screen),
    READ("/{}/event", lang_only, page_event),
    READ("/{}/cars/{}", card_parameters, page_card),
    {.method = "GET",
     .pattern = "/{}/cars/{}/enquiry",
     .parameters = receipt_parameters,
     .render = page_enquiry,
     .fresh = true},
    {.method = "GET",
     .pattern = "/{}/cars/{}/enquiries",
     .parameters = lang_only,
     .render = page_enquiry,
     .fresh = true},
    {FORM("/{}/cars/{}/enquiry", LIMIT_BODY_CREW), .write = write_crew_form, .tell = tell_crew_form,
     .moves = true},
    {FORM("/{}/cars/{}/enquiries", LIMIT_BODY_KEY), .act = act_crew_answers},
    READ("/{}/compare", compare_parameters, page_compare),
    READ("/{}/tests/{}", car_parameters, page_test),
    READ("/{}/starts/{}", lang_only, page_starts),
    READ("/{}/notices", lang_only, page_notices),
    READ("/{}/board-worker.js", NULL, page_board_worker),
    READ("/{}/qr", qr_parameters, page_qr),
    READ("/{}/control", NULL, page_control),
    READ("/{}/worker.js", NULL, page_worker),
    READ("/{}/office", NULL, page_office),
    {.method = "GET",
     .pattern = "/_/{}/{}",
     .render = page_asset,
     .eventless = true,
     .constant = true},
};
const size_t route_count = sizeof routes / sizeof routes[0];

/* Matches a path with a pattern; each "{}" takes one or more characters that are no slash. */
static bool match(const char *pattern, const char *path, char args[][ARG_LEN]) {
    int arg = 0;
    while (*pattern != '\0') {
        if (pattern[0] != '{') {
            if (*pattern++ != *path++)
                return false;
            continue;
        }
        pattern += 2;
        size_t len = strcspn(path, "/");
        if (*pattern != '/' && *pattern != '\0')
            len = strcspn(path, "/."); /* a name before a suffix */
        if (len == 0 || len >= ARG_LEN || arg == ARG_COUNT)
            return false;
        memcpy(args[arg], path, len);
        args[arg++][len] = '\0';
        path += len;
    }
    return *path == '\0';
}

const struct route *route_find(const char *method, const char *path, char args[][ARG_LEN],
                               char *allowed, size_t allowed_size) {
    size_t used = 0;
    *allowed = '\0';
    for (size_t i = 0; i < route_count; i++) {
        if (!match(routes[i].pattern, path, args))
            continue;
        if (strcmp(routes[i].method, method) == 0)
            return &routes[i];
        int n = snprintf(allowed + used, allowed_size - used, "%s%s", used > 0 ? ", " : "",
                         strcmp(routes[i].method, "GET") == 0 ? "GET, HEAD" : routes[i].method);
        if (n > 0 && (size_t)n < allowed_size - used)
            used += (size_t)n;
    }
    return NULL;
}
