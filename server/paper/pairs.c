/* SPDX-License-Identifier: MIT */
#include "paper/pairs.h"

#include <string.h>

#include "base/err.h"
#include "system/qr.h"

static const double LABEL_WIDTH = 128;
static const double CODE_WIDTH = 150;
static const double GAP = 7; /* below a block */

/* The first line of a text, for textbuf_clear. */
static struct textbuf first_line(const char *text) {
    struct textbuf line = {0};
    textbuf_add(&line, text, strcspn(text, "\n"));
    return line;
}

/* What stands beside it. */
static const char *rest_of(const char *text) {
    text += strcspn(text, "\n");
    return *text == '\0' ? text : text + 1;
}

/* Sets a text to the right of something so wide. Returns its height. */
static double set_beside(struct printer *p, const char *text, double left) {
    printer_set_text(p, FACE_LARGE, text, PAGE_WIDTH - 2 * PAGE_MARGIN - left, PANGO_ALIGN_LEFT, 0);
    return printer_size(p).height;
}

void pair_draw(struct printer *p, const char *text) {
    struct textbuf label = first_line(text);
    printer_set_text(p, FACE_HEADING, textbuf_text(&label), LABEL_WIDTH - COLUMN_GAP,
                     PANGO_ALIGN_LEFT, 0);
    double height = printer_size(p).height;
    double beside = set_beside(p, rest_of(text), LABEL_WIDTH);
    if (beside > height)
        height = beside;
    if (!printer_fits(p, height))
        printer_begin_page(p);
    printer_set_text(p, FACE_HEADING, textbuf_text(&label), LABEL_WIDTH - COLUMN_GAP,
                     PANGO_ALIGN_LEFT, 0);
    printer_show(p, PAGE_MARGIN, p->y);
    (void)set_beside(p, rest_of(text), LABEL_WIDTH);
    printer_show(p, PAGE_MARGIN + LABEL_WIDTH, p->y);
    p->y += height + GAP;
    textbuf_clear(&label);
}

void code_draw(struct printer *p, const char *text) {
    struct textbuf address = first_line(text);
    struct textbuf modules = {0};
    int side = 0;
    if (qr_modules(&modules, textbuf_text(&address), &side) != ERR_OK)
        side = 0; /* too long for a code: the text has it */
    double left = side > 0 ? CODE_WIDTH + COLUMN_GAP : 0;
    double height = set_beside(p, rest_of(text), left);
    if (side > 0 && height < CODE_WIDTH)
        height = CODE_WIDTH;
    if (!printer_fits(p, height))
        printer_begin_page(p);
    printer_code(p, &modules, side, PAGE_MARGIN, p->y, CODE_WIDTH);
    (void)set_beside(p, rest_of(text), left);
    printer_show(p, PAGE_MARGIN + left, p->y + GAP);
    p->y += height + GAP;
    textbuf_clear(&modules);
    textbuf_clear(&address);
}
