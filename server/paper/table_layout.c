/* SPDX-License-Identifier: MIT */
#include "paper/table_layout.h"

#include <stdlib.h>

#include "base/err.h"

static const double ROW_PAD = 2; /* above and below a row's text */

/* Lines that a cell may have before its text is cut, so that each row fits on a page. */
enum { CELL_LINES = 48 };

static double smaller(double a, double b) {
    return a < b ? a : b;
}

/* Gives the columns their widths: those with a share take what the others leave. */
static void share_width(struct table_layout *t) {
    const struct block *block = t->block;
    double left = PAGE_WIDTH - 2 * PAGE_MARGIN - COLUMN_GAP * (block->column_count - 1);
    double wanted = 0;
    int shares = 0;
    for (int c = 0; c < block->column_count; c++) {
        if (block->columns[c].share == 0)
            left -= t->width[c];
        else
            wanted += t->width[c];
        shares += block->columns[c].share;
    }
    if (left < 120)
        left = 120; /* only with figures of absurd length */
    for (int c = 0; c < block->column_count; c++) {
        if (block->columns[c].share == 0)
            continue;
        if (wanted <= left)
            t->width[c] += (left - wanted) * block->columns[c].share / shares;
        else
            t->width[c] = left * block->columns[c].share / shares;
    }
}

/* Moves width from columns with a share that are wider than their texts to those that are narrower.
 */
static void even_out(struct table_layout *t, const double *natural) {
    double spare = 0;
    double needed = 0;
    for (int c = 0; c < t->block->column_count; c++) {
        if (t->block->columns[c].share == 0)
            continue;
        if (natural[c] < t->width[c])
            spare += t->width[c] - natural[c];
        else
            needed += natural[c] - t->width[c];
    }
    double moved = smaller(spare, needed);
    for (int c = 0; moved > 0 && c < t->block->column_count; c++) {
        if (t->block->columns[c].share == 0)
            continue;
        if (natural[c] < t->width[c])
            t->width[c] -= (t->width[c] - natural[c]) * moved / spare;
        else
            t->width[c] += (natural[c] - t->width[c]) * moved / needed;
    }
}

static enum face cell_face(const struct block *block, size_t i) {
    return block->columns[i % (size_t)block->column_count].large ? FACE_TITLE : FACE_CELL;
}

int table_layout_measure(struct printer *p, struct table_layout *t, const struct block *block) {
    t->block = block;
    int columns = block->column_count;
    double natural[PAPER_COLUMNS_MAX] = {0};
    double most = (PAGE_WIDTH - 2 * PAGE_MARGIN) / 3;
    t->sizes = calloc(block->cell_count + 1, sizeof *t->sizes);
    if (t->sizes == NULL)
        return ERR_NOMEM;
    for (int c = 0; c < columns; c++) {
        printer_set_text(p, FACE_STRONG, block->columns[c].head, 0, PANGO_ALIGN_LEFT, 0);
        struct text_size size = printer_size(p);
        natural[c] = size.width > block->columns[c].width ? size.width : block->columns[c].width;
        t->head_height = size.height > t->head_height ? size.height : t->head_height;
    }
    for (size_t i = 0; i < block->cell_count; i++) {
        int c = (int)(i % (size_t)columns);
        printer_set_text(p, cell_face(block, i), block->cells[i], 0, PANGO_ALIGN_LEFT, 0);
        t->sizes[i] = printer_size(p);
        printer_count_unknown(p);
        if (t->sizes[i].width > natural[c])
            natural[c] = t->sizes[i].width;
    }
    for (int c = 0; c < columns; c++) {
        natural[c] += 0.5; /* lengths are cut to whole units somewhere on the way */
        t->width[c] = block->columns[c].share == 0 ? smaller(natural[c], most) : natural[c];
    }
    share_width(t);
    even_out(t, natural);
    return ERR_OK;
}

/* Sets a cell's text, in the width of its column. */
static void set_cell(struct printer *p, const struct table_layout *t, size_t i) {
    int c = (int)(i % (size_t)t->block->column_count);
    printer_set_text(p, cell_face(t->block, i), t->block->cells[i], t->width[c],
                     t->block->columns[c].right ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT, CELL_LINES);
}

static double row_height(struct printer *p, const struct table_layout *t, size_t row) {
    size_t columns = (size_t)t->block->column_count;
    double height = t->block->row_height;
    for (size_t c = 0; c < columns; c++) {
        size_t i = row * columns + c;
        double own = t->sizes[i].height;
        if (t->sizes[i].width > t->width[c]) {
            set_cell(p, t, i);
            own = printer_size(p).height;
        }
        if (own + 2 * ROW_PAD > height)
            height = own + 2 * ROW_PAD;
    }
    return height;
}

static double column_left(const struct table_layout *t, int column) {
    double x = PAGE_MARGIN;
    for (int c = 0; c < column; c++)
        x += t->width[c] + COLUMN_GAP;
    return x;
}

/* Lines beside the columns that are written in by hand. */
static void draw_boxes(struct printer *p, const struct table_layout *t, double height) {
    for (int c = 0; c < t->block->column_count; c++) {
        if (!t->block->columns[c].box)
            continue;
        double left = column_left(t, c) - COLUMN_GAP / 2;
        double right = smaller(left + t->width[c] + COLUMN_GAP, PAGE_WIDTH - PAGE_MARGIN);
        printer_rule(p, left, p->y, left, p->y + height, 0.4);
        printer_rule(p, right, p->y, right, p->y + height, 0.4);
    }
}

static void draw_head(struct printer *p, const struct table_layout *t) {
    for (int c = 0; c < t->block->column_count; c++) {
        const struct paper_column *column = &t->block->columns[c];
        (void)printer_line(p, FACE_STRONG, column->head, column_left(t, c), p->y + ROW_PAD,
                           t->width[c], column->right ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT);
    }
    p->y += t->head_height + 2 * ROW_PAD;
    printer_rule(p, PAGE_MARGIN, p->y, PAGE_WIDTH - PAGE_MARGIN, p->y, 0.6);
}

static void draw_row(struct printer *p, const struct table_layout *t, size_t row, double height) {
    size_t columns = (size_t)t->block->column_count;
    for (size_t c = 0; p->cr != NULL && c < columns; c++) {
        if (*t->block->cells[row * columns + c] == '\0')
            continue;
        set_cell(p, t, row * columns + c);
        printer_show(p, column_left(t, (int)c), p->y + ROW_PAD);
    }
    draw_boxes(p, t, height);
    p->y += height;
    printer_rule(p, PAGE_MARGIN, p->y, PAGE_WIDTH - PAGE_MARGIN, p->y, 0.2);
}

void table_layout_draw(struct printer *p, const struct table_layout *t, const char *heading) {
    if (t->sizes == NULL)
        return; /* it was not measured: no table */
    size_t rows = t->block->cell_count / (size_t)t->block->column_count;
    double head = t->head_height + 2 * ROW_PAD;
    double above = heading == NULL ? 0 : 26;
    for (size_t row = 0; row < rows || row == 0; row++) {
        double height = row < rows ? row_height(p, t, row) : 0;
        if (!printer_fits(p, row == 0 ? above + head + height : height)) {
            printer_begin_page(p);
            if (row > 0)
                draw_head(p, t);
        }
        if (row == 0 && heading != NULL)
            p->y += 6 + printer_line(p, FACE_HEADING, heading, PAGE_MARGIN, p->y + 4,
                                     PAGE_WIDTH - 2 * PAGE_MARGIN, PANGO_ALIGN_LEFT);
        if (row == 0)
            draw_head(p, t);
        if (row < rows)
            draw_row(p, t, row, height);
    }
    p->y += 8;
}
