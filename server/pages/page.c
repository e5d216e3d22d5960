/* SPDX-License-Identifier: MIT */
#include "pages/page.h"

#include <stdio.h>
#include <string.h>

#include "http/server.h"
#include "http/static_page.h"
#include "pages/templates.h"

void page_begin(struct page *p, struct request *r, const struct view *view) {
    *p = (struct page){.r = r, .lang = request_language(r), .view = view};
    if (r->snapshot != NULL && view != NULL) {
        p->event = &r->snapshot->event;
        p->rules = p->event->rules;
    }
}

bool page_is_copy(const struct page *p) {
    return p->r->static_page != NULL;
}

/* ---- the line on how final it is ---- */

struct state_content {
    const char *status;
    int64_t revision;
    int64_t changed;
    bool copy;
};

static const struct template_hole state_holes[] = {TEMPLATE_HOLE(struct state_content, status),
                                                   TEMPLATE_HOLE(struct state_content, revision),
                                                   TEMPLATE_HOLE(struct state_content, changed),
                                                   TEMPLATE_HOLE(struct state_content, copy),
                                                   {0}};

struct template state_template = {.file = "web/board/templates/state.html", .holes = state_holes};

void page_state(struct page *p) {
    const struct state_content content = {.status = said_of(p, "results", view_status(p->view)),
                                          .revision = p->r->results->revision,
                                          .changed = p->r->results->changed_ms,
                                          .copy = page_is_copy(p)};
    template_write(p, &state_template, &content);
}

static void put_state(struct page *p, const void *of) {
    (void)of;
    page_state(p);
}

struct markup page_state_line(void) {
    return (struct markup){.put = put_state};
}

/* ---- the frame ---- */

enum { PAGES = 6 };

struct frame_page {
    const char *name;
    struct address address;
    bool here;
};

struct frame_language {
    const char *name;
    const char *code;
    struct address address;
    bool here;
};

struct frame_content {
    const char *title;
    const char *lang;
    /* Of its event, if it has one. */
    const char *event;
    const char *slug;
    const char *zone;
    const char *status;
    /* A script finds out by the revision whether there is news; in a copy, by the state line alone,
     * so that the rest can stay as it was. */
    bool live;
    int64_t revision;
    bool copy;
    bool screen;
    bool timed; /* penalties are written as time, which scripts must know */
    bool sends;
    struct address figures;
    struct address style;
    struct address script;
    struct address own_script;
    struct address canonical;
    struct address home;
    struct address json;
    struct address csv;
    struct address qr;
    struct markup data;
    struct markup main;
    struct template_rows pages;
    struct template_rows languages;
};

static const struct template_hole page_holes[] = {TEMPLATE_HOLE(struct frame_page, name),
                                                  TEMPLATE_HOLE(struct frame_page, address),
                                                  TEMPLATE_HOLE(struct frame_page, here),
                                                  {0}};

static const struct template_hole language_holes[] = {TEMPLATE_HOLE(struct frame_language, name),
                                                      TEMPLATE_HOLE(struct frame_language, code),
                                                      TEMPLATE_HOLE(struct frame_language, address),
                                                      TEMPLATE_HOLE(struct frame_language, here),
                                                      {0}};

static const struct template_hole frame_holes[] = {
    TEMPLATE_HOLE(struct frame_content, title),
    TEMPLATE_HOLE(struct frame_content, lang),
    TEMPLATE_HOLE(struct frame_content, event),
    TEMPLATE_HOLE(struct frame_content, slug),
    TEMPLATE_HOLE(struct frame_content, zone),
    TEMPLATE_HOLE(struct frame_content, status),
    TEMPLATE_HOLE(struct frame_content, live),
    TEMPLATE_HOLE(struct frame_content, revision),
    TEMPLATE_HOLE(struct frame_content, copy),
    TEMPLATE_HOLE(struct frame_content, screen),
    TEMPLATE_HOLE(struct frame_content, timed),
    TEMPLATE_HOLE(struct frame_content, sends),
    TEMPLATE_HOLE(struct frame_content, figures),
    TEMPLATE_HOLE(struct frame_content, style),
    TEMPLATE_HOLE(struct frame_content, script),
    TEMPLATE_HOLE(struct frame_content, own_script),
    TEMPLATE_HOLE(struct frame_content, canonical),
    TEMPLATE_HOLE(struct frame_content, home),
    TEMPLATE_HOLE(struct frame_content, json),
    TEMPLATE_HOLE(struct frame_content, csv),
    TEMPLATE_HOLE(struct frame_content, qr),
    TEMPLATE_HOLE(struct frame_content, data),
    TEMPLATE_HOLE(struct frame_content, main),
    TEMPLATE_EACH(struct frame_content, pages, page_holes),
    TEMPLATE_EACH(struct frame_content, languages, language_holes),
    {0}};

struct template frame_template = {.file = "web/board/templates/frame.html", .holes = frame_holes};

/* A file that pages load, by its name. */
static struct address asset_address(struct page *p, const char *name) {
    return page_local(p, "%s/%s", server_assets(p->r->server), name);
}

/* This very page, in another language. */
static struct address self_in(struct page *p, enum lang lang) {
    struct textbuf *path = request_text(p->r);
    textbuf_puts(path, p->r->path);
    size_t before = path->len;
    page_query(p, "lang", path);
    textbuf_printf(path, "%clang=%s", path->len > before ? '&' : '?', lang_code(lang));
    return page_text_address(p, path);
}

/* This page's address as a QR code. */
static struct address qr_address(struct page *p) {
    struct textbuf *to = request_text(p->r);
    struct textbuf *path = request_text(p->r);
    textbuf_puts(to, p->r->path + strlen(p->rules->slug) + 2);
    page_query(p, "to", to);
    textbuf_printf(path, "/%s/qr?to=", p->rules->slug);
    url_text(path, textbuf_text(to));
    if (request_names_language(p->r))
        textbuf_printf(path, "&lang=%s", lang_code(p->lang));
    path->failed = path->failed || to->failed;
    return page_text_address(p, path);
}

/* The address at which search engines are to know a page of a copy. */
static struct address canonical_address(struct page *p) {
    const struct static_page *page = p->r->static_page;
    if (page == NULL || page->base == NULL)
        return (struct address){0};
    size_t end = strlen(page->file) - (sizeof "index.html" - 1);
    struct address address = page_local(p, "%s/%.*s", page->base, (int)end, page->file);
    address.elsewhere = true;
    return address;
}

static struct address home_address(struct page *p) {
    return request_names_language(p->r) ? page_local(p, "/?lang=%s", lang_code(p->lang))
                                        : (struct address){.path = "/"};
}

static void list_pages(struct page *p, const char *here, struct frame_page *out) {
    static const struct {
        const char *key;
        const char *path;
    } entries[PAGES] = {{"standings", ""},        {"compare", "compare"},
                        {"tests", "event#tests"}, {"starts", "event#starts"},
                        {"notices", "notices"},   {"event", "event"}};
    for (size_t i = 0; i < PAGES; i++)
        out[i] =
            (struct frame_page){said(p, entries[i].key), page_address(p, "%s", entries[i].path),
                                here != NULL && strcmp(here, entries[i].key) == 0};
}

static void list_languages(struct page *p, struct frame_language *out) {
    for (int i = 0; i < LANG_COUNT; i++) {
        enum lang lang = (enum lang)i;
        bool here = lang == p->lang;
        out[i] =
            (struct frame_language){.name = lang_name(lang), .code = lang_code(lang), .here = here};
        if (!here)
            out[i].address = self_in(p, lang);
    }
}

static void put_data(struct page *p, const void *of) {
    textbuf_puts(&p->m, of);
}

/* What a page of an event has besides. */
static void fill_event(struct page *p, const struct page_frame *frame,
                       struct frame_content *content) {
    content->event = p->rules->name;
    content->slug = p->rules->slug;
    content->zone = p->rules->timezone;
    content->timed = p->rules->scoring.shown_as_time;
    content->status = said(p, view_status(p->view));
    if (frame->downloads != NULL) {
        content->json = page_local(p, "/api/v1/events/%s/%s", p->rules->slug, frame->downloads);
        if (frame->csv)
            content->csv = page_local(p, "%s%cformat=csv", content->json.path,
                                      strchr(frame->downloads, '?') != NULL ? '&' : '?');
    }
    if (p->r->route != NULL && p->r->served != NULL)
        content->qr = qr_address(p);
}

unsigned page_finish(struct page *p, struct textbuf *b, const struct page_frame *frame) {
    struct frame_page pages[PAGES];
    struct frame_language languages[LANG_COUNT];
    struct textbuf written;
    struct frame_content content = {.title = frame->title,
                                    .lang = lang_code(p->lang),
                                    .live = frame->script != NULL && !page_is_copy(p),
                                    .copy = page_is_copy(p),
                                    .screen = frame->screen,
                                    .sends = frame->sends,
                                    .style = asset_address(p, "style.css"),
                                    .script = asset_address(p, "page.js"),
                                    .canonical = canonical_address(p),
                                    .home = home_address(p),
                                    .main = html_markup(&written)};
    if (p->rules != NULL) {
        fill_event(p, frame, &content);
        list_pages(p, frame->here, pages);
        content.pages = (struct template_rows)TEMPLATE_ROWS_OF(pages, PAGES);
    }
    if (p->r->route != NULL) {
        list_languages(p, languages);
        content.languages = (struct template_rows)TEMPLATE_ROWS_OF(languages, LANG_COUNT);
    }
    if (content.live)
        content.revision = p->r->results->revision;
    if (content.copy)
        content.figures.path = frame->figures;
    if (frame->script != NULL)
        content.own_script = asset_address(p, frame->script);
    if (frame->data != NULL)
        content.data = (struct markup){put_data, frame->data};
    written = p->m;
    p->m = *b;
    template_write(p, &frame_template, &content);
    *b = p->m;
    p->m = (struct textbuf){0};
    textbuf_clear(&written);
    p->r->media_type = "text/html; charset=utf-8";
    return MHD_HTTP_OK;
}

unsigned page_finish_bare(struct page *p, struct textbuf *b) {
    textbuf_add(b, p->m.bytes, p->m.len);
    b->failed = b->failed || p->m.failed;
    textbuf_clear(&p->m);
    p->r->media_type = "text/html; charset=utf-8";
    return MHD_HTTP_OK;
}

unsigned page_give_up(struct page *p) {
    textbuf_clear(&p->m);
    return request_no_memory(p->r);
}
