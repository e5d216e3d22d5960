/* SPDX-License-Identifier: MIT */
/* The page that tells of an error. */
#include <string.h>

#include "pages/page.h"
#include "pages/pages.h"
#include "pages/templates.h"

struct problem_content {
    const char *title;
    const char *detail;
};

static const struct template_hole problem_holes[] = {TEMPLATE_HOLE(struct problem_content, title),
                                                     TEMPLATE_HOLE(struct problem_content, detail),
                                                     {0}};

struct template problem_template = {.file = "web/board/templates/problem.html",
                                    .holes = problem_holes};

void page_problem(struct request *r, struct textbuf *b, unsigned status) {
    struct page p;
    page_begin(&p, r, r->results == NULL ? NULL : r->results->view);
    /* What the catalogue does not know is told by its key. */
    const char *key = page_text(&p, "status-%u", status);
    const char *title = said(&p, key);
    if (title == key)
        title = MHD_get_reason_phrase_for(status);
    const struct problem_content content = {.title = title, .detail = r->detail};
    template_write(&p, &problem_template, &content);
    (void)page_finish(&p, b, &(struct page_frame){.title = title});
}
