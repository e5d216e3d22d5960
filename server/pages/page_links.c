/* SPDX-License-Identifier: MIT */
/* Where the links of a page lead: to addresses of this server, or to files of a copy. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "format/percent.h"
#include "http/static_page.h"
#include "pages/page.h"
#include "system/html.h"

enum { PATH_MAX_LEN = 512 };

/* A comma is kept: it stands between numbers of cars, and such links are read by people. */
void url_text(struct textbuf *b, const char *text) {
    percent_write(b, text, ",");
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

bool page_link_value(struct page *p, const char *address) {
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
    if (page_link_value(p, address)) {
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

void page_query(const struct page *p, const char *without, struct textbuf *b) {
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
