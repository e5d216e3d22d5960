/* SPDX-License-Identifier: MIT */
#include "pages/page.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "http/server.h"
#include "http/static_page.h"
#include "system/assets.h"
#include "system/html.h"
#include "system/system_clock.h"

enum { PATH_MAX_LEN = 512 };

void page_begin(struct page *p, struct request *r, const struct view *view) {
    *p = (struct page){.r = r, .lang = request_language(r), .view = view};
    if (r->snapshot != NULL && view != NULL) {
        p->event = &r->snapshot->event;
        p->rules = p->event->rules;
    }
}

const char *said(const struct page *p, const char *key) {
    return word(p->lang, key);
}

void say(struct page *p, const char *key) {
    html_text(&p->m, said(p, key));
}

void say_with(struct page *p, const char *key, const char *a, const char *b, const char *c) {
    const char *args[] = {a, b, c};
    int count = c != NULL ? 3 : b != NULL ? 2 : 1;
    words_put(&p->m, said(p, key), args, count);
}

void say_count(struct page *p, const char *key, int64_t n, const char *a) {
    char number[24];
    (void)snprintf(number, sizeof number, "%lld", (long long)n);
    const char *args[] = {number, a};
    words_put(&p->m, word_for(p->lang, key, n), args, a != NULL ? 2 : 1);
}

void url_text(struct textbuf *b, const char *text) {
    for (; *text != '\0'; text++) {
        unsigned char c = (unsigned char)*text;
        if ((c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
            strchr("-._~,", c) != NULL)
            textbuf_putc(b, (char)c);
        else
            textbuf_printf(b, "%%%02X", c);
    }
}

bool page_is_copy(const struct page *p) {
    return p->r->static_page != NULL;
}

/* The file of a copy, as seen from this page's; false where there is none. */
static bool put_file(struct page *p, const char *address, struct textbuf *b) {
    const struct static_page *page = p->r->static_page;
    struct textbuf file = {0};
    bool found = page->find(page->context, address, &file) && file.len > 0;
    if (found) {
        for (const char *c = page->file; *c != '\0'; c++)
            textbuf_puts(b, *c == '/' ? "../" : "");
        textbuf_puts(b, file.bytes);
    }
    p->m.failed = p->m.failed || file.failed;
    textbuf_clear(&file);
    return found;
}

/* What page_link puts between the quotation marks. */
static bool put_link(struct page *p, const char *address) {
    if (!page_is_copy(p)) {
        html_text(&p->m, address);
        return true;
    }
    struct textbuf asked = {0};
    struct textbuf value = {0};
    const char *fragment = address + strcspn(address, "#");
    textbuf_add(&asked, address, (size_t)(fragment - address));
    bool found = put_file(p, textbuf_text(&asked), &value);
    if (found) {
        html_text(&p->m, textbuf_text(&value));
        html_text(&p->m, fragment);
    }
    p->m.failed = p->m.failed || asked.failed || value.failed;
    textbuf_clear(&asked);
    textbuf_clear(&value);
    return found;
}

/* Forgets what was written since the main part had that length. */
static void take_back(struct page *p, size_t len) {
    if (p->m.failed || p->m.len == len)
        return;
    p->m.len = len;
    p->m.bytes[len] = '\0';
}

bool page_link(struct page *p, const char *name, const char *address) {
    size_t before = p->m.len;
    textbuf_puts(&p->m, name);
    textbuf_puts(&p->m, "=\"");
    if (put_link(p, address)) {
        textbuf_putc(&p->m, '"');
        return true;
    }
    take_back(p, before);
    return false;
}

/* A board has a few hundred of them: it is put together with as little ado as can be. */
void page_href(struct page *p, const char *format, ...) {
    char address[PATH_MAX_LEN];
    size_t slug_len = strlen(p->rules->slug);
    va_list args;
    address[0] = '/';
    memcpy(address + 1, p->rules->slug, slug_len);
    address[slug_len + 1] = '/';
    va_start(args, format);
    (void)vsnprintf(address + slug_len + 2, sizeof address - slug_len - 2, format, args);
    va_end(args);
    if (!request_names_language(p->r)) {
        (void)page_link(p, "href", address);
        return;
    }
    char whole[PATH_MAX_LEN + 16];
    size_t len = strcspn(address, "#");
    (void)snprintf(whole, sizeof whole, "%.*s%clang=%s%s", (int)len, address,
                   strchr(address, '?') != NULL ? '&' : '?', lang_code(p->lang), address + len);
    (void)page_link(p, "href", whole);
}

/* The query that this very page was asked for with, but for some of its parameters. */
static void write_query(const struct page *p, const char *without, struct textbuf *b) {
    const struct route *route = p->r->route;
    char before = '?';
    for (int i = 0; route->parameters != NULL && route->parameters[i] != NULL; i++) {
        if (p->r->query[i] == NULL || strcmp(route->parameters[i], without) == 0)
            continue;
        textbuf_printf(b, "%c%s=", before, route->parameters[i]);
        url_text(b, p->r->query[i]);
        before = '&';
    }
}

/* This very page, in another language. */
static void write_self(struct page *p, enum lang lang) {
    struct textbuf address = {0};
    textbuf_puts(&address, p->r->path);
    size_t before = address.len;
    write_query(p, "lang", &address);
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

/* A moment for people; page.js turns it into the event's local time. */
static void write_moment(struct textbuf *b, int64_t ms) {
    struct textbuf iso = {0};
    write_instant(&iso, ms);
    const char *text = textbuf_text(&iso);
    if (strlen(text) >= 19)
        textbuf_printf(b, "<time datetime=\"%s\">%.10s %.8s UTC</time>", text, text, text + 11);
    textbuf_clear(&iso);
}

void page_state(struct page *p) {
    char revision[64];
    struct textbuf when = {0};
    const char *status = view_status(p->view);
    char key[32];
    (void)snprintf(key, sizeof key, "results-%s", status);
    (void)snprintf(revision, sizeof revision, "<span id=\"revision\">%lld</span>",
                   (long long)p->r->results->revision);
    write_moment(&when, p->r->results->changed_ms);
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

void page_tool(struct page *p, const char *address, const char *label) {
    size_t before = p->m.len;
    textbuf_puts(&p->m, "<a ");
    if (page_link(p, "href", address)) {
        textbuf_putc(&p->m, '>');
        html_text(&p->m, label);
        textbuf_puts(&p->m, "</a> ");
    } else {
        take_back(p, before);
    }
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
    write_query(p, "to", &to);
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
    (void)put_link(p, address);
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

void table_begin(struct page *p, const char *name, const char *caption,
                 const struct column_head *heads) {
    textbuf_printf(&p->m, "<div class=\"scroll\"><table class=\"%s\">\n<caption>%s</caption>\n",
                   name, caption);
    textbuf_puts(&p->m, "<thead><tr>");
    for (; heads->key != NULL; heads++) {
        textbuf_printf(&p->m, "<th scope=\"col\"%s>", heads->number ? " class=\"n\"" : "");
        say(p, heads->key);
        textbuf_puts(&p->m, "</th>");
    }
    textbuf_puts(&p->m, "</tr></thead>\n<tbody>\n");
}

void table_end(struct page *p) {
    textbuf_puts(&p->m, "</tbody>\n</table></div>\n");
}

void put_penalty(struct page *p, int64_t penalty) {
    words_decimal(&p->m, p->lang, penalty);
}

void put_time(struct page *p, int64_t ms, enum time_unit unit) {
    struct textbuf text = {0};
    time_write(&text, ms, unit_decimals(unit));
    words_figure(&p->m, p->lang, textbuf_text(&text));
    textbuf_clear(&text);
}

void cell_number(struct page *p, int64_t number) {
    textbuf_puts(&p->m, "<td>");
    textbuf_int(&p->m, number);
    textbuf_puts(&p->m, "</td>");
}

void cell_penalty(struct page *p, int64_t penalty) {
    textbuf_puts(&p->m, "<td>");
    put_penalty(p, penalty);
    textbuf_puts(&p->m, "</td>");
}

void cell_known(struct page *p, int64_t penalty, bool known) {
    if (known)
        cell_penalty(p, penalty);
    else
        textbuf_puts(&p->m, "<td>–</td>");
}

void put_gap(struct page *p, struct gap gap) {
    if (gap.fails == 0)
        put_penalty(p, gap.penalty);
    else
        say_count(p, "fails", gap.fails, NULL);
}

void cell_gap(struct page *p, struct gap gap, bool known) {
    textbuf_puts(&p->m, "<td>");
    if (known)
        put_gap(p, gap);
    else
        textbuf_puts(&p->m, "–");
    textbuf_puts(&p->m, "</td>");
}

void cell_time(struct page *p, int64_t ms, enum time_unit unit) {
    textbuf_puts(&p->m, "<td>");
    if (ms != TIME_NONE)
        put_time(p, ms, unit);
    textbuf_puts(&p->m, "</td>");
}

void put_crew(struct page *p, int car) {
    const struct entry *e = &p->event->entries->list[car];
    textbuf_puts(&p->m, "<bdi>");
    html_text(&p->m, e->driver);
    textbuf_puts(&p->m, "</bdi>");
    if (*e->navigator != '\0') {
        textbuf_puts(&p->m, " / <bdi>");
        html_text(&p->m, e->navigator);
        textbuf_puts(&p->m, "</bdi>");
    }
}

void put_vehicle(struct page *p, int car) {
    const struct entry *e = &p->event->entries->list[car];
    html_text(&p->m, e->make);
    if (*e->make != '\0' && *e->model != '\0')
        textbuf_putc(&p->m, ' ');
    html_text(&p->m, e->model);
}

void put_class(struct page *p, int car) {
    rules_class_id(p->rules, p->event->entries->list[car].class_index, &p->m);
}

void put_plate(struct page *p, int car) {
    textbuf_printf(&p->m, "<span class=\"no\">%d</span>", p->event->entries->list[car].number);
}

void cells_car(struct page *p, int car) {
    textbuf_puts(&p->m, "<td>");
    put_plate(p, car);
    textbuf_puts(&p->m, "</td><th scope=\"row\"><a ");
    page_href(p, "cars/%d", p->event->entries->list[car].number);
    textbuf_putc(&p->m, '>');
    put_crew(p, car);
    textbuf_puts(&p->m, "</a><small>");
    put_vehicle(p, car);
    textbuf_printf(&p->m, ", %d</small></th>", p->event->entries->list[car].year);
}

void put_item(struct page *p, const struct item *item, bool link) {
    if (link && item->test >= 0) {
        textbuf_puts(&p->m, "<a ");
        page_href(p, "tests/%s", item->id);
        textbuf_putc(&p->m, '>');
    }
    html_text(&p->m, item->id);
    textbuf_putc(&p->m, ' ');
    html_text(&p->m, item->name);
    if (link && item->test >= 0)
        textbuf_puts(&p->m, "</a>");
}

void put_moment(struct page *p, int64_t ms) {
    write_moment(&p->m, ms);
}
