/* SPDX-License-Identifier: MIT */
#include "paper/printer.h"

#include <stdio.h>

#include "system/qr.h"

static const double BODY_TOP = 78;
static const double QR_SIDE = 58;

void printer_set_text(struct printer *p, enum face face, const char *text, double width,
                      PangoAlignment side, int lines) {
    const struct pdf_library *f = p->f;
    f->pango_layout_set_font_description(p->layout, p->faces[face]);
    f->pango_layout_set_width(p->layout, width > 0 ? (int)(width * IN_PANGO) : -1);
    f->pango_layout_set_height(p->layout, lines > 0 ? -lines : -1);
    f->pango_layout_set_ellipsize(p->layout,
                                  lines > 0 ? PANGO_ELLIPSIZE_END : PANGO_ELLIPSIZE_NONE);
    f->pango_layout_set_alignment(p->layout, side);
    f->pango_layout_set_text(p->layout, text, -1);
}

void printer_count_unknown(struct printer *p) {
    p->unknown += p->f->pango_layout_get_unknown_glyphs_count(p->layout);
}

struct text_size printer_size(const struct printer *p) {
    int width = 0;
    int height = 0;
    p->f->pango_layout_get_size(p->layout, &width, &height);
    return (struct text_size){width / IN_PANGO, height / IN_PANGO};
}

void printer_show(struct printer *p, double x, double y) {
    if (p->cr == NULL)
        return;
    p->f->cairo_move_to(p->cr, x, y);
    p->f->pango_cairo_show_layout(p->cr, p->layout);
}

double printer_line(struct printer *p, enum face face, const char *text, double x, double y,
                    double width, PangoAlignment side) {
    printer_set_text(p, face, text, width, side, 1);
    printer_show(p, x, y);
    return printer_size(p).height;
}

void printer_rule(struct printer *p, double x1, double y1, double x2, double y2, double width) {
    if (p->cr == NULL)
        return;
    p->f->cairo_set_line_width(p->cr, width);
    p->f->cairo_move_to(p->cr, x1, y1);
    p->f->cairo_line_to(p->cr, x2, y2);
    p->f->cairo_stroke(p->cr);
}

void printer_code(struct printer *p, const struct textbuf *modules, int side, double x, double y,
                  double width) {
    double unit = width / (side + 2.0 * QR_QUIET);
    if (p->cr == NULL || side == 0)
        return;
    for (int row = 0; row < side; row++) {
        const char *dark = modules->bytes + (size_t)row * (size_t)side;
        for (int from = 0; from < side; from++) {
            int to = from;
            while (to < side && dark[to] != 0)
                to++;
            if (to == from)
                continue;
            p->f->cairo_rectangle(p->cr, x + (from + QR_QUIET) * unit, y + (row + QR_QUIET) * unit,
                                  (to - from) * unit, unit);
            from = to;
        }
    }
    p->f->cairo_fill(p->cr);
}

static void draw_frame(struct printer *p) {
    const struct paper_head *head = &p->doc->head;
    double width = PAGE_WIDTH - 2 * PAGE_MARGIN;
    char text[96];
    double y = PAGE_MARGIN;
    y += printer_line(p, FACE_TEXT, head->event, PAGE_MARGIN, y, width * 0.75, PANGO_ALIGN_LEFT);
    (void)printer_line(p, FACE_TEXT, head->state, PAGE_MARGIN + width * 0.75, PAGE_MARGIN,
                       width * 0.25, PANGO_ALIGN_RIGHT);
    (void)printer_line(p, FACE_TITLE, head->title, PAGE_MARGIN, y + 2, width, PANGO_ALIGN_LEFT);
    printer_rule(p, PAGE_MARGIN, BODY_TOP - 6, PAGE_WIDTH - PAGE_MARGIN, BODY_TOP - 6, 0.8);

    double foot = BODY_BOTTOM + 10;
    double foot_width = p->side > 0 ? width - QR_SIDE - COLUMN_GAP : width;
    printer_rule(p, PAGE_MARGIN, foot, PAGE_MARGIN + foot_width, foot, 0.4);
    foot += 4;
    (void)snprintf(text, sizeof text, "Page %d of %d", p->page, p->pages);
    (void)printer_line(p, FACE_SMALL, text, PAGE_MARGIN + foot_width * 0.75, foot,
                       foot_width * 0.25, PANGO_ALIGN_RIGHT);
    foot += printer_line(p, FACE_SMALL, head->origin, PAGE_MARGIN, foot, foot_width * 0.75,
                         PANGO_ALIGN_LEFT);
    if (*head->hash != '\0') {
        (void)snprintf(text, sizeof text, "SHA-256 %s", head->hash);
        foot += printer_line(p, FACE_SMALL, text, PAGE_MARGIN, foot, foot_width, PANGO_ALIGN_LEFT);
    }
    (void)printer_line(p, FACE_SMALL, head->address, PAGE_MARGIN, foot, foot_width,
                       PANGO_ALIGN_LEFT);
    printer_code(p, &p->modules, p->side, PAGE_WIDTH - PAGE_MARGIN - QR_SIDE, BODY_BOTTOM + 6,
                 QR_SIDE);
}

void printer_begin_page(struct printer *p) {
    if (p->page > 0 && p->cr != NULL)
        p->f->cairo_show_page(p->cr);
    p->page++;
    p->y = BODY_TOP;
    draw_frame(p);
}

bool printer_fits(const struct printer *p, double height) {
    return p->y + height <= BODY_BOTTOM;
}
