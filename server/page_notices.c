/* SPDX-License-Identifier: MIT */
/* The noticeboard: what the organisers posted, newest first. */
#include "html.h"
#include "page.h"
#include "pages.h"

unsigned page_notices(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    struct page p;
    page_begin(&p, r, r->scene->view);
    textbuf_puts(&p.m, "<h1>");
    say(&p, "notices");
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    if (board->count == 0) {
        textbuf_puts(&p.m, "<p>");
        say(&p, "no-notices");
        textbuf_puts(&p.m, "</p>\n");
    }
    for (size_t i = board->count; i-- > 0;) {
        const struct stored_notice *n = &board->list[i];
        textbuf_printf(&p.m, "<article id=\"notice-%lld\"><h2>%lld. ", (long long)n->number,
                       (long long)n->number);
        html_text(&p.m, n->title);
        textbuf_puts(&p.m, "</h2>\n<p class=\"quiet\">");
        put_moment(&p, n->posted_ms);
        textbuf_puts(&p.m, "</p>\n<p class=\"typed\">");
        html_text(&p.m, n->body);
        textbuf_puts(&p.m, "</p></article>\n");
    }
    return page_finish(
        &p, b,
        &(struct page_frame){
            .title = said(&p, "notices"), .here = "notices", .downloads = "notices", .csv = true});
}
