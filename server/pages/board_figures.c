/* SPDX-License-Identifier: MIT */
/* The figures of the board, by which its page keeps itself up to date without being fetched anew.
 */
#include "format/json_write.h"
#include "pages/board_table.h"
#include "pages/board_view.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/since.h"
#include "system/system_clock.h"

unsigned page_figures(struct request *r, struct textbuf *b) {
    struct board_view board;
    struct page p;
    unsigned status = board_view_open(r, &board);
    if (status != 0)
        return status;
    page_begin(&p, r, board.s.view);
    /* What says something in words says it into a page. */
    p.m = *b;
    json_open_object(&p.m);
    json_member_int(&p.m, "revision", r->results->revision);
    json_member_instant(&p.m, "changed", r->results->changed_ms);
    json_member_text(&p.m, "status", view_status(board.s.view));
    json_member_text(&p.m, "after", board.after >= 0 ? p.rules->items[board.after].id : "");
    json_member_int(&p.m, "through", board.done);
    json_member_int(&p.m, "running", board.running);
    since_tell(&p, &board);
    if (board.st->group_count == 1)
        board_table_tell(&p, &board, &board.st->groups[0]);
    json_close_object(&p.m);
    textbuf_putc(&p.m, '\n');
    *b = p.m;
    return MHD_HTTP_OK;
}
