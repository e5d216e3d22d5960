/* SPDX-License-Identifier: MIT */
/* A page's address as a QR code, to pin up. */
#include <string.h>

#include "base/err.h"
#include "http/static_page.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/templates.h"
#include "system/qr.h"

struct qr_content {
    const char *event;
    struct markup code;
    struct address address;
    const char *shown; /* the address again, as text */
};

static const struct template_hole qr_holes[] = {TEMPLATE_HOLE(struct qr_content, event),
                                                TEMPLATE_HOLE(struct qr_content, code),
                                                TEMPLATE_HOLE(struct qr_content, address),
                                                TEMPLATE_HOLE(struct qr_content, shown),
                                                {0}};

struct template qr_template = {.file = "web/board/templates/qr.html", .holes = qr_holes};

static bool is_path(const char *path) {
    return path[strspn(path, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                             "/?=&,.-_%~")] == '\0' &&
           strstr(path, "//") == NULL;
}

/* The whole address of a page of this event; false where it has none. */
static bool write_whole_address(struct request *r, const char *to, struct textbuf *b) {
    const char *slug = r->snapshot->event.rules->slug;
    if (!is_path(to) ||
        (r->static_page == NULL ? !request_base(r, b) : r->static_page->base == NULL))
        return false;
    if (r->static_page == NULL) {
        textbuf_printf(b, "/%s/%s", slug, to);
        return true;
    }
    struct textbuf *asked = request_text(r);
    struct textbuf *file = request_text(r);
    textbuf_printf(asked, "/%s/%s", slug, to);
    if (request_names_language(r))
        textbuf_printf(asked, "?lang=%s", lang_code(request_language(r)));
    bool found =
        r->static_page->find(r->static_page->context, textbuf_text(asked), file) && file->len > 0;
    if (found) {
        /* A host shows a folder's own page, and a shorter address makes a coarser code. */
        size_t end = file->len - (sizeof "index.html" - 1);
        textbuf_printf(b, "%s/%.*s", r->static_page->base, (int)end, file->bytes);
    }
    b->failed = b->failed || asked->failed || file->failed;
    return found;
}

unsigned page_qr(struct request *r, struct textbuf *b) {
    const char *to = request_query(r, "to");
    struct textbuf *address = request_text(r);
    struct textbuf *code = request_text(r);
    struct page p;
    if (!write_whole_address(r, to == NULL ? "" : to, address))
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "There is no such address of this event.");
    page_begin(&p, r, r->results->view);
    if (address->failed || qr_svg(code, textbuf_text(address)) != ERR_OK)
        return page_give_up(&p);
    const struct qr_content content = {
        .event = p.rules->name,
        .code = html_markup(code),
        .address = {.path = textbuf_text(address), .elsewhere = true},
        .shown = textbuf_text(address),
    };
    template_write(&p, &qr_template, &content);
    return page_finish(&p, b, &(struct page_frame){.title = said(&p, "qr")});
}
