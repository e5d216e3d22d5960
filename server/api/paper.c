/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "api/bodies.h"
#include "base/err.h"
#include "format/percent.h"
#include "http/request.h"
#include "http/server.h"
#include "paper/contents.h"
#include "paper/drawing_process.h"
#include "system/log.h"
#include "system/system_clock.h"

/* A paper on its way: the answer that it is made of, and its frame. */
struct printing {
    struct textbuf *answer;
    json_t *json;
    const json_t *subject; /* what of it is set out */
    struct textbuf *title;
    struct textbuf *page; /* the path behind the event's, and its query */
    const char *state;
    int64_t made_ms;
};

/* What one kind of paper is made of. */
struct paper_kind {
    /* The handler of the API whose answer it sets out. */
    unsigned (*read)(struct request *r, struct textbuf *b);
    /* Fills in the frame: title, page, and what is not as the event has it. */
    void (*describe)(const struct request *r, struct printing *p);
    /* Adds what stands in the frame: by the answer alone, or by more of the event. */
    void (*set_out)(struct paper_doc *doc, const json_t *subject);
    void (*set_out_more)(struct request *r, struct paper_doc *doc, const json_t *subject);
    bool secret; /* no hash of it is printed: a short code could be found by trying */
    bool bare;   /* no address at its foot: it has one of its own */
};

/* Has the API's own answer written, and reads it. Returns 200, or the status of an error. */
static unsigned ask(struct request *r, const struct paper_kind *kind, struct printing *p) {
    *p = (struct printing){.answer = request_text(r),
                           .title = request_text(r),
                           .page = request_text(r),
                           .made_ms = r->results->changed_ms,
                           .state = view_status(r->results->view)};
    unsigned status = kind->read(r, p->answer);
    if (status != MHD_HTTP_OK)
        return status;
    if (!p->answer->failed)
        p->json = json_loadb(p->answer->bytes, p->answer->len, 0, NULL);
    p->subject = p->json;
    if (p->json == NULL || !request_owns_json(r, p->json))
        return request_no_memory(r);
    if (r->snapshot->event.rules->scoring.shown_as_time && contents_show_times(p->json) != ERR_OK)
        return request_no_memory(r);
    return MHD_HTTP_OK;
}

static void write_hash(struct textbuf *b, const struct printing *p) {
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * sizeof hash + 1];
    const char *sealed = contents_member(p->json, "hash");
    (void)crypto_hash_sha256(hash, (const unsigned char *)p->answer->bytes, p->answer->len);
    (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    textbuf_puts(b, *sealed != '\0' ? sealed : hex);
}

static void free_paper(void *doc) {
    paper_free(doc);
}

/* The document with its frame, empty; NULL when memory is out. */
static struct paper_doc *frame(struct request *r, const struct printing *p,
                               const struct paper_kind *kind) {
    struct textbuf *origin = request_text(r);
    struct textbuf *hash = request_text(r);
    struct textbuf *address = request_text(r);
    textbuf_puts(origin, "Published ");
    write_instant(origin, p->made_ms);
    if (*contents_member(p->json, "hash") == '\0')
        textbuf_printf(origin, ", revision %lld", (long long)r->results->revision);
    if (!kind->secret)
        write_hash(hash, p);
    if (!kind->bare && request_base(r, address))
        textbuf_printf(address, "/%s/%s", r->snapshot->event.rules->slug, textbuf_text(p->page));
    if (origin->failed || hash->failed || address->failed || p->title->failed || p->page->failed)
        return NULL;
    struct paper_doc *doc = paper_new(&(struct paper_head){.event = r->snapshot->event.rules->name,
                                                           .title = textbuf_text(p->title),
                                                           .state = p->state,
                                                           .origin = textbuf_text(origin),
                                                           .hash = textbuf_text(hash),
                                                           .address = textbuf_text(address),
                                                           .made_ms = p->made_ms});
    return request_owns(r, doc, free_paper) ? doc : NULL;
}

/* Letters that no font of this machine has: to the log, or to who asked for the paper here. */
static void warn_of_boxes(const struct request *r, int letters) {
    static const char words[] = "%s: %d letters are in no font of this machine and print as boxes";
    char text[256];
    (void)snprintf(text, sizeof text, words, r->path, letters);
    if (r->exchange != NULL)
        log_error(r->served->slug, "%s", text);
    else
        (void)fprintf(stderr, "cairn: %s\n", text);
}

static bool is_abandoned(void *context) {
    return request_is_abandoned(context);
}

/* Prints the document: a server in a process apart, a command in its own. */
static unsigned print(struct request *r, struct paper_doc *doc, struct textbuf *b) {
    struct paper_count count = {0};
    struct textbuf *why = request_text(r);
    const char *program = server_program(r->server);
    r->media_type = "application/pdf";
    int err = program == NULL ? paper_print(doc, b, &count, why)
                              : drawing_process_draw(program, doc, is_abandoned, r, b, &count, why);
    if (err == ERR_IO || err == ERR_BUSY)
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "No paper now: %s.",
                            textbuf_text(why));
    if (err != ERR_OK)
        return request_no_memory(r);
    if (count.unknown > 0)
        warn_of_boxes(r, count.unknown);
    return MHD_HTTP_OK;
}

/* Answers with a paper. */
static unsigned print_paper(struct request *r, struct textbuf *b, const struct paper_kind *kind) {
    struct printing p;
    unsigned status = ask(r, kind, &p);
    if (status != MHD_HTTP_OK)
        return status;
    kind->describe(r, &p);
    struct paper_doc *doc = frame(r, &p, kind);
    if (doc == NULL)
        return request_no_memory(r);
    if (kind->set_out != NULL)
        kind->set_out(doc, p.subject);
    else if (kind->set_out_more != NULL)
        kind->set_out_more(r, doc, p.subject);
    return print(r, doc, b);
}

static long long number_of(const json_t *object, const char *name) {
    return json_integer_value(json_object_get(object, name));
}

/* A parameter of the request as one of the page's address. */
static void write_query(const struct request *r, struct textbuf *b, const char *name) {
    const char *value = request_query(r, name);
    if (value == NULL)
        return;
    textbuf_printf(b, "%c%s=", strchr(textbuf_text(b), '?') == NULL ? '?' : '&', name);
    percent_write(b, value, "");
}

/* After which item an answer shows the event, where it is not as it stands now. */
static void write_after(struct printing *p) {
    const char *after = contents_member(p->json, "after");
    if (*after != '\0')
        textbuf_printf(p->title, ", after %s", after);
}

static void describe_notice(const struct request *r, struct printing *p) {
    const struct noticeboard *board = r->snapshot->notices;
    const json_t *content = json_object_get(p->json, "content");
    long long number = number_of(content, "number");
    p->subject = content;
    for (size_t i = 0; i < board->count; i++) {
        if (board->list[i].number == number)
            p->made_ms = board->list[i].posted_ms;
    }
    p->state = contents_member(content, "kind");
    textbuf_printf(p->title, "Notice %lld: %s", number, contents_member(content, "title"));
    textbuf_printf(p->page, "notices#notice-%lld", number);
}

/* A second's work and a hundred pages: not for everybody who asks. */
static unsigned read_standings(struct request *r, struct textbuf *b) {
    const char *by = request_query(r, "by");
    if (by != NULL && strcmp(by, "test") == 0 && r->role != ROLE_ORGANISER)
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "The results of every test are on paper for organisers only.");
    return api_standings(r, b);
}

static bool are_clubs(const struct request *r) {
    return r->snapshot->event.rules->scoring.teams_by_club;
}

static void describe_standings(const struct request *r, struct printing *p) {
    static const char *const titles[][2] = {{"overall", "Overall classification"},
                                            {"class", "Classification by class"},
                                            {"category", "Classification by category"},
                                            {"group", "Classification by group"},
                                            {"day", "Standings by day"},
                                            {"test", "Results by test"},
                                            {"team", "Team classification"}};
    for (size_t i = 0; i < sizeof titles / sizeof titles[0]; i++) {
        if (strcmp(titles[i][0], contents_member(p->json, "by")) == 0)
            textbuf_puts(p->title,
                         i == BY_TEAM && are_clubs(r) ? "Club classification" : titles[i][1]);
    }
    write_after(p);
    p->state = contents_member(p->json, "status");
    write_query(r, p->page, "by");
    write_query(r, p->page, "class");
    write_query(r, p->page, "after");
}

static void describe_starts(const struct request *r, struct printing *p) {
    (void)r;
    long long day = number_of(p->json, "day");
    textbuf_printf(p->title, "Start list, day %lld, %s", day, contents_member(p->json, "date"));
    textbuf_printf(p->page, "starts/%lld", day);
    p->state = "";
}

static void describe_card(const struct request *r, struct printing *p) {
    long long car = number_of(p->json, "car");
    textbuf_printf(p->title, "Card of car %lld", car);
    write_after(p);
    textbuf_printf(p->page, "cars/%lld", car);
    write_query(r, p->page, "after");
    p->state = contents_member(p->json, "event_status");
}

static void describe_control(const struct request *r, struct printing *p) {
    const struct rules *rules = r->snapshot->event.rules;
    const char *id = contents_member(p->json, "point");
    const struct item *item =
        &rules->items[rules->points[strmap_get(&rules->point_by_id, id)].item];
    textbuf_printf(p->title, "Control sheet %s, %s, day %d, %s", id, item->name, item->day + 1,
                   rules->days[item->day].date);
    textbuf_puts(p->page, "control");
    p->state = "for officials";
}

/* The faults that can be told at a point, by name. At a test with faults of its own, the same for
 * all cars, the judges know them. */
static void name_faults(const struct item *item, struct textbuf *b) {
    bool own = item->kind == KIND_SPECIAL_TEST || item->kind == KIND_CONSISTENCY;
    if (own && item->variant_count == 0 && item->attempts == 1)
        return;
    for (int i = 0; i < item->fault_count; i++) {
        textbuf_puts(b, i > 0 ? ", " : "");
        textbuf_puts(b, item->faults[i].name);
        if (item->faults[i].worth == FAULT_NOT_NAMED)
            textbuf_puts(b, " (some cars)");
    }
}

static void set_out_control(struct request *r, struct paper_doc *doc, const json_t *subject) {
    const struct rules *rules = r->snapshot->event.rules;
    int point = strmap_get(&rules->point_by_id, contents_member(subject, "point"));
    struct textbuf *faults = request_text(r);
    name_faults(&rules->items[rules->points[point].item], faults);
    contents_control(doc, subject, r->snapshot->event.entries, textbuf_text(faults));
}

static void describe_desk(const struct request *r, struct printing *p) {
    const struct rules *rules = r->snapshot->event.rules;
    const char *id = contents_member(p->json, "point");
    const struct item *item =
        &rules->items[rules->points[strmap_get(&rules->point_by_id, id)].item];
    char day[16];
    (void)snprintf(day, sizeof day, "%d", item->day + 1);
    const char *const args[] = {id, item->name, day, rules->days[item->day].date};
    words_put(p->title, word(request_language(r), "sheet-title"), args, 4);
    p->state = word(request_language(r), "sheet-state");
}

static void set_out_desk(struct request *r, struct paper_doc *doc, const json_t *subject) {
    const char *phone = request_query(r, "phone");
    struct textbuf *link = request_text(r);
    (void)request_base(r, link);
    textbuf_printf(link, "/%s/control", r->snapshot->event.rules->slug);
    if (r->desk_key != NULL)
        textbuf_printf(link, "#%s", r->desk_key);
    const struct desk_sheet sheet = {.lang = request_language(r),
                                     .link = textbuf_text(link),
                                     .phone = phone == NULL ? "" : phone,
                                     .holds_key = r->desk_key != NULL};
    contents_desk(doc, &sheet);
    paper_page(doc);
    set_out_control(r, doc, subject);
}

static void describe_prizes(const struct request *r, struct printing *p) {
    (void)r;
    textbuf_puts(p->title, "Prizes");
    textbuf_puts(p->page, "office");
    p->state = contents_member(p->json, "status");
}

static void describe_codes(const struct request *r, struct printing *p) {
    (void)r;
    textbuf_puts(p->title, "Codes of the crews");
    textbuf_puts(p->page, "office");
    p->state = "for the office alone";
}

static void set_out_codes(struct request *r, struct paper_doc *doc, const json_t *subject) {
    struct textbuf *cards = request_text(r);
    if (request_base(r, cards))
        textbuf_printf(cards, "/%s/cars/", r->served->slug);
    contents_codes(doc, subject, textbuf_text(cards));
}

static void set_out_notice(struct request *r, struct paper_doc *doc, const json_t *subject) {
    contents_notice(doc, subject, are_clubs(r));
}

static void set_out_standings(struct request *r, struct paper_doc *doc, const json_t *subject) {
    contents_standings(doc, subject, are_clubs(r));
}

/* ---- the papers ---- */

unsigned paper_notice(struct request *r, struct textbuf *b) {
    static const struct paper_kind notice = {
        .read = api_notice, .describe = describe_notice, .set_out_more = set_out_notice};
    return print_paper(r, b, &notice);
}

unsigned paper_standings(struct request *r, struct textbuf *b) {
    static const struct paper_kind standings = {
        .read = read_standings, .describe = describe_standings, .set_out_more = set_out_standings};
    return print_paper(r, b, &standings);
}

unsigned paper_starts(struct request *r, struct textbuf *b) {
    static const struct paper_kind starts = {
        .read = api_starts, .describe = describe_starts, .set_out = contents_starts};
    return print_paper(r, b, &starts);
}

unsigned paper_card(struct request *r, struct textbuf *b) {
    static const struct paper_kind card = {
        .read = api_card, .describe = describe_card, .set_out = contents_card};
    return print_paper(r, b, &card);
}

unsigned paper_control(struct request *r, struct textbuf *b) {
    static const struct paper_kind control = {
        .read = api_expected, .describe = describe_control, .set_out_more = set_out_control};
    return print_paper(r, b, &control);
}

unsigned paper_desk(struct request *r, struct textbuf *b) {
    static const struct paper_kind desk = {.read = api_expected,
                                           .describe = describe_desk,
                                           .set_out_more = set_out_desk,
                                           .secret = true,
                                           .bare = true};
    return print_paper(r, b, &desk);
}

unsigned paper_prizes(struct request *r, struct textbuf *b) {
    static const struct paper_kind prizes = {
        .read = api_prizes, .describe = describe_prizes, .set_out = contents_prizes};
    return print_paper(r, b, &prizes);
}

unsigned paper_codes(struct request *r, struct textbuf *b) {
    static const struct paper_kind codes = {.read = api_codes,
                                            .describe = describe_codes,
                                            .set_out_more = set_out_codes,
                                            .secret = true};
    return print_paper(r, b, &codes);
}
