/* SPDX-License-Identifier: MIT */
/* Where the links of a page lead: to addresses of this server, or to files of a copy. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "format/percent.h"
#include "http/static_page.h"
#include "pages/page.h"
#include "system/html.h"

enum { PATH_MAX_LEN = 512, LANGUAGE_LEN = sizeof "&lang=en" };

/* A comma is kept: it stands between numbers of cars, and such links are read by people. */
void url_text(struct textbuf *b, const char *text) {
    percent_write(b, text, ",");
}

/* A buffer that ends with the request, emptied each time: a board has hundreds of links. */
static struct textbuf *empty_buffer(struct page *p, struct textbuf **buffer) {
    if (*buffer == NULL)
        *buffer = request_text(p->r);
    textbuf_reset(*buffer);
    return *buffer;
}

/* The file of a copy that stands for an address, from the site's root; NULL where there is none. */
static const char *find_file(struct page *p, const char *address) {
    const struct static_page *page = p->r->static_page;
    struct textbuf *file = empty_buffer(p, &p->link_file);
    size_t len = strcspn(address, "#");
    if (address[len] != '\0') {
        struct textbuf *asked = empty_buffer(p, &p->link_asked);
        textbuf_add(asked, address, len);
        p->m.failed = p->m.failed || asked->failed;
        address = textbuf_text(asked);
    }
    bool found = page->find(page->context, address, file) && file->len > 0;
    p->m.failed = p->m.failed || file->failed;
    return found ? textbuf_text(file) : NULL;
}

/* Appends what stands between the quotation marks of a link. False where a copy has no such file.
 */
static bool put_link(struct page *p, const char *address) {
    if (!page_is_copy(p)) {
        html_text(&p->m, address);
        return true;
    }
    const char *file = find_file(p, address);
    if (file == NULL)
        return false;
    /* As it is seen from this page's own. */
    for (const char *c = p->r->static_page->file; *c != '\0'; c++)
        textbuf_puts(&p->m, *c == '/' ? "../" : "");
    html_text(&p->m, file);
    html_text(&p->m, address + strcspn(address, "#"));
    return true;
}

/* Forgets what was written since the main part had that length. */
static void take_back(struct page *p, size_t len) {
    if (p->m.failed || p->m.len == len)
        return;
    p->m.len = len;
    p->m.bytes[len] = '\0';
}

/* Appends the attribute of a link; nothing where a copy has no such file. */
static void put_link_attribute(struct page *p, const char *name, const char *address) {
    size_t before = p->m.len;
    textbuf_puts(&p->m, name);
    textbuf_puts(&p->m, "=\"");
    if (put_link(p, address))
        textbuf_putc(&p->m, '"');
    else
        take_back(p, before);
}

bool page_leads(struct page *p, const struct address *address) {
    if (address->path == NULL)
        return false;
    return !page_is_copy(p) || address->elsewhere || find_file(p, address->path) != NULL;
}

void page_attribute(struct page *p, const char *name, const struct address *address) {
    if (address->path == NULL)
        return;
    if (!address->elsewhere) {
        put_link_attribute(p, name, address->path);
        return;
    }
    textbuf_printf(&p->m, "%s=\"", name);
    html_text(&p->m, address->path);
    textbuf_putc(&p->m, '"');
}

/* The path of a page of this event with the language, where it is named, in it. */
static void write_path(const struct page *p, char *path, size_t size, const char *format,
                       va_list args) {
    size_t slug_len = strlen(p->rules->slug);
    path[0] = '/';
    memcpy(path + 1, p->rules->slug, slug_len);
    path[slug_len + 1] = '/';
    (void)vsnprintf(path + slug_len + 2, size - slug_len - 2, format, args);
    if (!request_names_language(p->r))
        return;
    char fragment[PATH_MAX_LEN];
    char *end = path + strcspn(path, "#");
    (void)snprintf(fragment, sizeof fragment, "%s", end);
    (void)snprintf(end, size - (size_t)(end - path), "%clang=%s%s",
                   strchr(path, '?') != NULL ? '&' : '?', lang_code(p->lang), fragment);
}

/* A board has a few hundred of them: it is put together with as little ado as can be. */
void page_href(struct page *p, const char *format, ...) {
    char path[PATH_MAX_LEN + LANGUAGE_LEN];
    va_list args;
    va_start(args, format);
    write_path(p, path, sizeof path, format, args);
    va_end(args);
    put_link_attribute(p, "href", path);
}

struct address page_address(struct page *p, const char *format, ...) {
    char path[PATH_MAX_LEN + LANGUAGE_LEN];
    va_list args;
    va_start(args, format);
    write_path(p, path, sizeof path, format, args);
    va_end(args);
    return page_local(p, "%s", path);
}

/* A text of the request, written as printf does. */
static const char *write_text(struct page *p, const char *format, va_list args) {
    va_list again;
    va_copy(again, args);
    int len = vsnprintf(NULL, 0, format, again);
    va_end(again);
    char *text = len < 0 ? NULL : request_array(p->r, (size_t)len + 1, 1);
    if (text == NULL) {
        p->m.failed = true;
        return "";
    }
    (void)vsnprintf(text, (size_t)len + 1, format, args);
    return text;
}

const char *page_text(struct page *p, const char *format, ...) {
    va_list args;
    va_start(args, format);
    const char *text = write_text(p, format, args);
    va_end(args);
    return text;
}

struct address page_local(struct page *p, const char *format, ...) {
    va_list args;
    va_start(args, format);
    const char *path = write_text(p, format, args);
    va_end(args);
    return (struct address){.path = path};
}

struct address page_text_address(struct page *p, const struct textbuf *path) {
    p->m.failed = p->m.failed || path->failed;
    return (struct address){.path = textbuf_text(path)};
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
