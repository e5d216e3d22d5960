/* SPDX-License-Identifier: MIT */
#include "pages/page.h"

#include <stdio.h>
#include <string.h>

#include "http/server.h"
#include "http/static_page.h"
#include "system/assets.h"
#include "system/html.h"

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

/* This very page, in another language. */
static void write_self(struct page *p, enum lang lang) {
    struct textbuf address = {0};
    textbuf_puts(&address, p->r->path);
    size_t before = address.len;
    page_query(p, "lang", &address);
    textbuf_printf(&address, "%clang=%s", address.len > before ? '&' : '?', lang_code(lang));
    (void)page_link(p, "href", textbuf_text(&address));
    p->m.failed = p->m.failed || address.failed;
    textbuf_clear(&address);
}

static void write_languages(struct page *p) {
    if (p->r->route == NULL)
        return;
    textbuf_puts(&p->m, "<nav class=\"languages\" aria-label=\"");
    say(p, "languages");
    textbuf_puts(&p->m, "\">");
    for (int i = 0; i < LANG_COUNT; i++) {
        enum lang lang = (enum lang)i;
        if (lang == p->lang) {
            textbuf_printf(&p->m, "<span aria-current=\"true\">%s</span> ", lang_name(lang));
            continue;
        }
        textbuf_puts(&p->m, "<a ");
        write_self(p, lang);
        textbuf_printf(&p->m, " lang=\"%s\" hreflang=\"%s\">%s</a> ", lang_code(lang),
                       lang_code(lang), lang_name(lang));
    }
    textbuf_puts(&p->m, "</nav>\n");
}

static void write_nav(struct page *p, const char *here) {
    static const struct {
        const char *key;
        const char *path;
    } entries[] = {{"standings", ""},          {"compare", "compare"}, {"tests", "event#tests"},
                   {"starts", "event#starts"}, {"notices", "notices"}, {"event", "event"}};
    for (size_t i = 0; i < sizeof entries / sizeof entries[0]; i++) {
        textbuf_puts(&p->m, "<a ");
        page_href(p, "%s", entries[i].path);
        if (here != NULL && strcmp(here, entries[i].key) == 0)
            textbuf_puts(&p->m, " aria-current=\"page\"");
        textbuf_putc(&p->m, '>');
        say(p, entries[i].key);
        textbuf_puts(&p->m, "</a> ");
    }
}

void page_state(struct page *p) {
    char revision[64];
    struct textbuf when = {0};
    const char *status = view_status(p->view);
    char key[32];
    (void)snprintf(key, sizeof key, "results-%s", status);
    (void)snprintf(revision, sizeof revision, "<span id=\"revision\">%lld</span>",
                   (long long)p->r->results->revision);
    moment_write(&when, p->r->results->changed_ms);
    textbuf_printf(&p->m, "<p class=\"state\" id=\"state\"><strong>");
    say(p, key);
    textbuf_puts(&p->m, "</strong> ");
    say_with(p, "state", revision, textbuf_text(&when), NULL);
    if (page_is_copy(p)) {
        textbuf_putc(&p->m, ' ');
        say(p, "state-copy");
    }
    textbuf_puts(&p->m, " <span id=\"age\"></span></p>\n");
    textbuf_clear(&when);
}

static void write_downloads(struct page *p, const struct page_frame *frame) {
    struct textbuf address = {0};
    textbuf_printf(&address, "/api/v1/events/%s/%s", p->rules->slug, frame->downloads);
    page_tool(p, textbuf_text(&address), "JSON");
    textbuf_printf(&address, "%cformat=csv", strchr(frame->downloads, '?') != NULL ? '&' : '?');
    if (frame->csv)
        page_tool(p, textbuf_text(&address), "CSV");
    p->m.failed = p->m.failed || address.failed;
    textbuf_clear(&address);
}

/* The way to this page's address as a QR code. */
static void write_qr(struct page *p) {
    struct textbuf to = {0};
    struct textbuf address = {0};
    textbuf_puts(&to, p->r->path + strlen(p->rules->slug) + 2);
    page_query(p, "to", &to);
    textbuf_printf(&address, "/%s/qr?to=", p->rules->slug);
    url_text(&address, textbuf_text(&to));
    if (request_names_language(p->r))
        textbuf_printf(&address, "&lang=%s", lang_code(p->lang));
    page_tool(p, textbuf_text(&address), said(p, "qr"));
    p->m.failed = p->m.failed || to.failed || address.failed;
    textbuf_clear(&to);
    textbuf_clear(&address);
}

/* The foot of a page: other forms of it, and what concerns the reader's device. */
static void write_tools(struct page *p, const struct page_frame *frame) {
    textbuf_puts(&p->m, "<p class=\"tools\">");
    if (frame->downloads != NULL)
        write_downloads(p, frame);
    if (p->rules != NULL && p->r->route != NULL && p->r->served != NULL)
        write_qr(p);
    textbuf_puts(&p->m, "<button type=\"button\" id=\"copy\" hidden data-done=\"");
    say(p, "copied");
    textbuf_puts(&p->m, "\">");
    say(p, "copy");
    textbuf_puts(&p->m, "</button> <button type=\"button\" id=\"print\" hidden>");
    say(p, "print");
    textbuf_puts(&p->m, "</button> <button type=\"button\" id=\"theme\" hidden data-light=\"");
    say(p, "to-light");
    textbuf_puts(&p->m, "\" data-dark=\"");
    say(p, "to-dark");
    textbuf_puts(&p->m, "\"></button></p>\n");
}

/* Takes what was written since into a buffer of its own. */
static struct textbuf take(struct page *p) {
    struct textbuf taken = p->m;
    p->m = (struct textbuf){0};
    return taken;
}

/* A file that pages load, by its name. */
static void write_asset(struct page *p, const char *name) {
    char address[64];
    (void)snprintf(address, sizeof address, "%s/%s", server_assets(p->r->server), name);
    (void)page_link_value(p, address);
}

/* The address at which search engines are to know the page. */
static void write_canonical(struct page *p) {
    const struct static_page *page = p->r->static_page;
    size_t end = strlen(page->file) - (sizeof "index.html" - 1);
    textbuf_printf(&p->m, "\n<link rel=\"canonical\" href=\"%s/%.*s\">", page->base, (int)end,
                   page->file);
}

static void write_scripts(struct page *p, const struct page_frame *frame) {
    if (frame->script != NULL) {
        textbuf_puts(&p->m, "\n<script src=\"");
        write_asset(p, frame->script);
        textbuf_puts(&p->m, "\" defer></script>");
    }
    /* Else a browser would say that its forms come from nowhere: see cross_site.h. */
    if (frame->sends)
        textbuf_puts(&p->m, "\n<meta name=\"referrer\" content=\"same-origin\">");
    if (page_is_copy(p) && p->r->static_page->base != NULL)
        write_canonical(p);
    if (frame->data != NULL)
        textbuf_printf(&p->m, "\n<script type=\"application/ld+json\">%s</script>", frame->data);
}

static void write_root(struct page *p, const struct page_frame *frame) {
    textbuf_printf(&p->m, "lang=\"%s\"", lang_code(p->lang));
    if (p->rules != NULL) {
        textbuf_printf(&p->m, " data-event=\"%s\" data-zone=\"", p->rules->slug);
        html_text(&p->m, p->rules->timezone);
        textbuf_puts(&p->m, "\"");
    }
    if (page_is_copy(p)) {
        textbuf_puts(&p->m, " data-copy=\"\"");
        if (frame->figures != NULL)
            (void)page_link(p, " data-figures", frame->figures);
    } else if (frame->script != NULL) {
        /* A copy tells it in the state line alone, so that the rest can stay as it was. */
        textbuf_printf(&p->m, " data-revision=\"%lld\"", (long long)p->r->results->revision);
    }
    if (frame->screen)
        textbuf_puts(&p->m, " class=\"screen\"");
}

static void write_home(struct page *p) {
    char home[16] = "/";
    if (request_names_language(p->r))
        (void)snprintf(home, sizeof home, "/?lang=%s", lang_code(p->lang));
    (void)page_link(p, "href", home);
}

unsigned page_finish(struct page *p, struct textbuf *b, const struct page_frame *frame) {
    enum { TITLE, ROOT, STYLE, SCRIPT, SCRIPTS, HOME, EVENT, NAV, MAIN, TOOLS, LANGUAGES, SLOTS };
    const struct asset *page = asset_find("web/board/page.html");
    struct textbuf part[SLOTS] = {0};
    bool failed = p->m.failed;
    part[MAIN] = take(p);
    html_text(&p->m, frame->title);
    if (p->rules != NULL) {
        textbuf_puts(&p->m, " – ");
        html_text(&p->m, p->rules->name);
        textbuf_printf(&p->m, " (%s)", said(p, view_status(p->view)));
    }
    part[TITLE] = take(p);
    write_root(p, frame);
    part[ROOT] = take(p);
    write_asset(p, "style.css");
    part[STYLE] = take(p);
    write_asset(p, "page.js");
    part[SCRIPT] = take(p);
    write_scripts(p, frame);
    part[SCRIPTS] = take(p);
    write_home(p);
    part[HOME] = take(p);
    html_text(&p->m, p->rules != NULL ? p->rules->name : "cairn");
    part[EVENT] = take(p);
    if (p->rules != NULL)
        write_nav(p, frame->here);
    part[NAV] = take(p);
    write_tools(p, frame);
    part[TOOLS] = take(p);
    write_languages(p);
    part[LANGUAGES] = take(p);
    const struct html_slot slots[] = {
        {"title", textbuf_text(&part[TITLE])},
        {"root", textbuf_text(&part[ROOT])},
        {"style", textbuf_text(&part[STYLE])},
        {"script", textbuf_text(&part[SCRIPT])},
        {"scripts", textbuf_text(&part[SCRIPTS])},
        {"event", textbuf_text(&part[EVENT])},
        {"nav", textbuf_text(&part[NAV])},
        {"main", textbuf_text(&part[MAIN])},
        {"tools", textbuf_text(&part[TOOLS])},
        {"languages", textbuf_text(&part[LANGUAGES])},
        {"skip", said(p, "skip")},
        {"pages", said(p, "pages")},
        {"events", said(p, "events")},
        {"caution", said(p, "caution")},
        {"home", textbuf_text(&part[HOME])},
    };
    html_fill(b, page->bytes, page->end, slots, sizeof slots / sizeof slots[0]);
    for (int i = 0; i < SLOTS; i++) {
        failed = failed || part[i].failed;
        textbuf_clear(&part[i]);
    }
    b->failed = b->failed || failed;
    p->r->media_type = "text/html; charset=utf-8";
    return MHD_HTTP_OK;
}

unsigned page_give_up(struct page *p) {
    textbuf_clear(&p->m);
    return request_no_memory(p->r);
}
