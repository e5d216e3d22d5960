/* SPDX-License-Identifier: MIT */
#include "api/api.h"
#include "http/request.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "api/api.h"
#include "base/err.h"
#include "http/server.h"
#include "paper/contents.h"
#include "paper/drawing_process.h"
#include "system/log.h"
#include "system/system_clock.h"

/* A paper on its way: the answer that it is made of, and its frame. */
struct printing {
    struct textbuf told;
    json_t *json;
    struct textbuf title;
    struct textbuf page; /* the path behind the event's, and its query */
    const char *state;
    int64_t made_ms;
    bool secret; /* no hash of it is printed: a short code could be found by trying */
};

static void write_escaped(struct textbuf *b, const char *text) {
    for (; *text != '\0'; text++) {
        unsigned char c = (unsigned char)*text;
        if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') ||
            c == '-' || c == '_' || c == '.')
            textbuf_putc(b, (char)c);
        else
            textbuf_printf(b, "%%%02X", c);
    }
}

/* Has the API's own answer written, and reads it. */
static unsigned ask(struct request *r, struct printing *p,
                    unsigned (*render)(struct request *, struct textbuf *)) {
    *p = (struct printing){.made_ms = r->results->changed_ms,
                           .state = view_status(r->results->view)};
    unsigned status = render(r, &p->told);
    if (status == MHD_HTTP_OK && !p->told.failed)
        p->json = json_loadb(p->told.bytes, p->told.len, 0, NULL);
    if (status == MHD_HTTP_OK && p->json == NULL)
        status = request_no_memory(r);
    return status;
}

static void printing_clear(struct printing *p) {
    json_decref(p->json);
    textbuf_clear(&p->told);
    textbuf_clear(&p->title);
    textbuf_clear(&p->page);
}

static void write_hash(struct textbuf *b, const struct printing *p) {
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * sizeof hash + 1];
    const char *sealed = contents_member(p->json, "hash");
    (void)crypto_hash_sha256(hash, (const unsigned char *)p->told.bytes, p->told.len);
    (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    textbuf_puts(b, *sealed != '\0' ? sealed : hex);
}

/* The document with its frame, empty; NULL when memory is out. */
static struct paper_doc *frame(const struct request *r, const struct printing *p) {
    struct textbuf origin = {0};
    struct textbuf hash = {0};
    struct textbuf address = {0};
    struct paper_doc *doc = NULL;
    textbuf_puts(&origin, "Published ");
    write_instant(&origin, p->made_ms);
    if (*contents_member(p->json, "hash") == '\0')
        textbuf_printf(&origin, ", revision %lld", (long long)r->results->revision);
    if (!p->secret)
        write_hash(&hash, p);
    if (request_base(r, &address))
        textbuf_printf(&address, "/%s/%s", r->snapshot->event.rules->slug, textbuf_text(&p->page));
    if (!origin.failed && !hash.failed && !address.failed && !p->title.failed && !p->page.failed)
        doc = paper_new(&(struct paper_head){.event = r->snapshot->event.rules->name,
                                             .title = textbuf_text(&p->title),
                                             .state = p->state,
                                             .origin = textbuf_text(&origin),
                                             .hash = textbuf_text(&hash),
                                             .address = textbuf_text(&address),
                                             .made_ms = p->made_ms});
    textbuf_clear(&origin);
    textbuf_clear(&hash);
    textbuf_clear(&address);
    return doc;
}

/* Letters that no font of this machine has: to the log, or to who asked for the paper here. */
static void tell_of_boxes(const struct request *r, int letters) {
    static const char words[] = "%s: %d letters are in no font of this machine and print as boxes";
    char text[256];
    (void)snprintf(text, sizeof text, words, r->path, letters);
    if (r->connection != NULL)
        log_error(r->served->slug, "%s", text);
    else
        (void)fprintf(stderr, "cairn: %s\n", text);
}

static bool is_given_up(void *context) {
    return request_is_given_up(context);
}

/* Prints and frees the document: a server in a process apart, a command in its own. */
static unsigned print(struct request *r, struct paper_doc *doc, struct textbuf *b) {
    struct paper_count count = {0};
    struct textbuf why = {0};
    const char *program = server_program(r->server);
    int err = doc == NULL ? ERR_NOMEM
              : program == NULL
                  ? paper_print(doc, b, &count, &why)
                  : drawing_process_draw(program, doc, is_given_up, r, b, &count, &why);
    unsigned status = MHD_HTTP_OK;
    if (err == ERR_IO || err == ERR_BUSY)
        status =
            request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "No paper now: %s.", textbuf_text(&why));
    else if (err != ERR_OK)
        status = request_no_memory(r);
    else if (count.unknown > 0)
        tell_of_boxes(r, count.unknown);
    r->media_type = "application/pdf";
    paper_free(doc);
    textbuf_clear(&why);
    return status;
}

unsigned paper_notice(struct request *r, struct textbuf *b) {
    struct printing p;
    unsigned status = ask(r, &p, api_notice);
    if (status == MHD_HTTP_OK) {
        const struct noticeboard *board = r->snapshot->notices;
        const json_t *content = json_object_get(p.json, "content");
        long long number = json_integer_value(json_object_get(content, "number"));
        for (size_t i = 0; i < board->count; i++) {
            if (board->list[i].number == number)
                p.made_ms = board->list[i].posted_ms;
        }
        p.state = contents_member(content, "kind");
        textbuf_printf(&p.title, "Notice %lld: %s", number, contents_member(content, "title"));
        textbuf_printf(&p.page, "notices#notice-%lld", number);
        struct paper_doc *doc = frame(r, &p);
        if (doc != NULL)
            contents_notice(doc, content);
        status = print(r, doc, b);
    }
    printing_clear(&p);
    return status;
}

static void write_query(const struct request *r, struct textbuf *b, const char *name) {
    const char *value = request_query(r, name);
    if (value == NULL)
        return;
    textbuf_printf(b, "%c%s=", strchr(textbuf_text(b), '?') == NULL ? '?' : '&', name);
    write_escaped(b, value);
}

unsigned paper_standings(struct request *r, struct textbuf *b) {
    static const char *const titles[][2] = {{"overall", "Overall classification"},
                                            {"class", "Classification by class"},
                                            {"category", "Classification by category"},
                                            {"day", "Standings by day"},
                                            {"test", "Results by test"},
                                            {"team", "Team classification"}};
    const char *by = request_query(r, "by");
    struct printing p;
    /* A second's work and a hundred pages: not for everybody who asks. */
    if (by != NULL && strcmp(by, "test") == 0 && r->role != ROLE_ORGANISER)
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "The results of every test are on paper for organisers only.");
    unsigned status = ask(r, &p, api_standings);
    if (status == MHD_HTTP_OK) {
        const char *after = contents_member(p.json, "after");
        for (size_t i = 0; i < sizeof titles / sizeof titles[0]; i++) {
            if (strcmp(titles[i][0], contents_member(p.json, "by")) == 0)
                textbuf_puts(&p.title, titles[i][1]);
        }
        if (*after != '\0')
            textbuf_printf(&p.title, ", after %s", after);
        p.state = contents_member(p.json, "status");
        write_query(r, &p.page, "by");
        write_query(r, &p.page, "class");
        write_query(r, &p.page, "after");
        struct paper_doc *doc = frame(r, &p);
        if (doc != NULL)
            contents_standings(doc, p.json);
        status = print(r, doc, b);
    }
    printing_clear(&p);
    return status;
}

unsigned paper_starts(struct request *r, struct textbuf *b) {
    struct printing p;
    unsigned status = ask(r, &p, api_starts);
    if (status == MHD_HTTP_OK) {
        long long day = json_integer_value(json_object_get(p.json, "day"));
        textbuf_printf(&p.title, "Start list, day %lld, %s", day, contents_member(p.json, "date"));
        textbuf_printf(&p.page, "starts/%lld", day);
        p.state = "";
        struct paper_doc *doc = frame(r, &p);
        if (doc != NULL)
            contents_starts(doc, p.json);
        status = print(r, doc, b);
    }
    printing_clear(&p);
    return status;
}

unsigned paper_card(struct request *r, struct textbuf *b) {
    struct printing p;
    unsigned status = ask(r, &p, api_card);
    if (status == MHD_HTTP_OK) {
        const char *after = contents_member(p.json, "after");
        long long car = json_integer_value(json_object_get(p.json, "car"));
        textbuf_printf(&p.title, "Card of car %lld", car);
        if (*after != '\0')
            textbuf_printf(&p.title, ", after %s", after);
        textbuf_printf(&p.page, "cars/%lld", car);
        write_query(r, &p.page, "after");
        p.state = contents_member(p.json, "event_status");
        struct paper_doc *doc = frame(r, &p);
        if (doc != NULL)
            contents_card(doc, p.json);
        status = print(r, doc, b);
    }
    printing_clear(&p);
    return status;
}

unsigned paper_control(struct request *r, struct textbuf *b) {
    struct printing p;
    unsigned status = ask(r, &p, api_expected);
    if (status == MHD_HTTP_OK) {
        const struct rules *rules = r->snapshot->event.rules;
        const char *id = contents_member(p.json, "point");
        const struct item *item =
            &rules->items[rules->points[strmap_get(&rules->point_by_id, id)].item];
        textbuf_printf(&p.title, "Control sheet %s, %s, day %d, %s", id, item->name, item->day + 1,
                       rules->days[item->day].date);
        textbuf_puts(&p.page, "control");
        p.state = "for officials";
        struct paper_doc *doc = frame(r, &p);
        if (doc != NULL)
            contents_control(doc, p.json, r->snapshot->event.entries);
        status = print(r, doc, b);
    }
    printing_clear(&p);
    return status;
}

unsigned paper_prizes(struct request *r, struct textbuf *b) {
    struct printing p;
    unsigned status = ask(r, &p, api_prizes);
    if (status == MHD_HTTP_OK) {
        textbuf_puts(&p.title, "Prizes");
        textbuf_puts(&p.page, "office");
        p.state = contents_member(p.json, "status");
        struct paper_doc *doc = frame(r, &p);
        if (doc != NULL)
            contents_prizes(doc, p.json);
        status = print(r, doc, b);
    }
    printing_clear(&p);
    return status;
}

unsigned paper_codes(struct request *r, struct textbuf *b) {
    struct printing p;
    struct textbuf cards = {0};
    unsigned status = ask(r, &p, api_codes);
    if (status == MHD_HTTP_OK) {
        textbuf_puts(&p.title, "Codes of the crews");
        textbuf_puts(&p.page, "office");
        p.state = "for the office alone";
        p.secret = true;
        if (request_base(r, &cards))
            textbuf_printf(&cards, "/%s/cars/", r->served->slug);
        struct paper_doc *doc = frame(r, &p);
        if (doc != NULL)
            contents_codes(doc, p.json, textbuf_text(&cards));
        status = print(r, doc, b);
    }
    textbuf_clear(&cards);
    printing_clear(&p);
    return status;
}
