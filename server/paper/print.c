/* SPDX-License-Identifier: MIT */
/* Setting out a document on pages and drawing it. The pages are set out twice, since the foot of
 * the first one tells how many there are: once to count, once to draw. */
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "paper/paper_private.h"
#include "system/pdf_library.h"
#include "system/qr.h"
#include "system/system_clock.h"

/* A4, in points of 1/72 inch. */
static const double page_width = 595.276;
static const double page_height = 841.89;
static const double margin = 34;
static const double body_top = 78;
static const double body_bottom = 841.89 - 82;
static const double qr_side = 58;
static const double gap = 6; /* between columns */
static const double pad = 2; /* above and below a row's text */

/* Lines that a cell may have before its text is cut, so that each row fits on a page. */
enum { CELL_LINES = 48 };

enum face { FACE_TITLE, FACE_HEADING, FACE_TEXT, FACE_CELL, FACE_STRONG, FACE_SMALL, FACE_COUNT };

struct cell_size {
    double width, height; /* natural, in one line */
};

struct printer {
    const struct pdf_library *f;
    const struct paper_doc *doc;
    PangoContext *context;
    PangoLayout *layout;
    PangoFontDescription *faces[FACE_COUNT];
    cairo_t *cr; /* NULL while pages are counted */
    double y;
    int page, pages;
    int unknown;
    struct textbuf *pdf;
    struct textbuf modules; /* of the QR code */
    int side;
};

/* The fonts that were found are kept from paper to paper; whoever draws holds the lock. */
static struct {
    pthread_mutex_t lock;
    PangoFontMap *fonts;
} room = {.lock = PTHREAD_MUTEX_INITIALIZER};

static const double in_pango = PANGO_SCALE;

/* ---- letters ---- */

/* Sets the text of the layout.
 *   width  in points, 0 for as wide as it is */
static void set_text(struct printer *p, enum face face, const char *text, double width,
                     PangoAlignment side, int lines) {
    const struct pdf_library *f = p->f;
    f->pango_layout_set_font_description(p->layout, p->faces[face]);
    f->pango_layout_set_width(p->layout, width > 0 ? (int)(width * in_pango) : -1);
    f->pango_layout_set_height(p->layout, lines > 0 ? -lines : -1);
    f->pango_layout_set_ellipsize(p->layout,
                                  lines > 0 ? PANGO_ELLIPSIZE_END : PANGO_ELLIPSIZE_NONE);
    f->pango_layout_set_alignment(p->layout, side);
    f->pango_layout_set_text(p->layout, text, -1);
}

/* To be called once for each text. */
static void count_unknown(struct printer *p) {
    p->unknown += p->f->pango_layout_get_unknown_glyphs_count(p->layout);
}

static struct cell_size size_of(const struct printer *p) {
    int width = 0;
    int height = 0;
    p->f->pango_layout_get_size(p->layout, &width, &height);
    return (struct cell_size){width / in_pango, height / in_pango};
}

static void show_at(struct printer *p, double x, double y) {
    if (p->cr == NULL)
        return;
    p->f->cairo_move_to(p->cr, x, y);
    p->f->pango_cairo_show_layout(p->cr, p->layout);
}

/* A line of text within the page's frame, cut where it is too long. Returns its height. */
static double line_at(struct printer *p, enum face face, const char *text, double x, double y,
                      double width, PangoAlignment side) {
    set_text(p, face, text, width, side, 1);
    show_at(p, x, y);
    return size_of(p).height;
}

static void rule(struct printer *p, double x1, double y1, double x2, double y2, double width) {
    if (p->cr == NULL)
        return;
    p->f->cairo_set_line_width(p->cr, width);
    p->f->cairo_move_to(p->cr, x1, y1);
    p->f->cairo_line_to(p->cr, x2, y2);
    p->f->cairo_stroke(p->cr);
}

/* ---- the frame ---- */

static void draw_code(struct printer *p, double x, double y) {
    double unit = qr_side / (p->side + 2.0 * QR_QUIET);
    if (p->cr == NULL || p->side == 0)
        return;
    for (int row = 0; row < p->side; row++) {
        const char *modules = p->modules.bytes + (size_t)row * (size_t)p->side;
        for (int from = 0; from < p->side; from++) {
            int to = from;
            while (to < p->side && modules[to] != 0)
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
    double width = page_width - 2 * margin;
    char text[96];
    double y = margin;
    y += line_at(p, FACE_TEXT, head->event, margin, y, width * 0.75, PANGO_ALIGN_LEFT);
    (void)line_at(p, FACE_TEXT, head->state, margin + width * 0.75, margin, width * 0.25,
                  PANGO_ALIGN_RIGHT);
    (void)line_at(p, FACE_TITLE, head->title, margin, y + 2, width, PANGO_ALIGN_LEFT);
    rule(p, margin, body_top - 6, page_width - margin, body_top - 6, 0.8);

    double foot = body_bottom + 10;
    double room_left = p->side > 0 ? width - qr_side - gap : width;
    rule(p, margin, foot, margin + room_left, foot, 0.4);
    foot += 4;
    (void)snprintf(text, sizeof text, "Page %d of %d", p->page, p->pages);
    (void)line_at(p, FACE_SMALL, text, margin + room_left * 0.75, foot, room_left * 0.25,
                  PANGO_ALIGN_RIGHT);
    foot += line_at(p, FACE_SMALL, head->origin, margin, foot, room_left * 0.75, PANGO_ALIGN_LEFT);
    if (*head->hash != '\0') {
        (void)snprintf(text, sizeof text, "SHA-256 %s", head->hash);
        foot += line_at(p, FACE_SMALL, text, margin, foot, room_left, PANGO_ALIGN_LEFT);
    }
    (void)line_at(p, FACE_SMALL, head->address, margin, foot, room_left, PANGO_ALIGN_LEFT);
    draw_code(p, page_width - margin - qr_side, body_bottom + 6);
}

static void begin_page(struct printer *p) {
    if (p->page > 0 && p->cr != NULL)
        p->f->cairo_show_page(p->cr);
    p->page++;
    p->y = body_top;
    draw_frame(p);
}

static bool fits(const struct printer *p, double height) {
    return p->y + height <= body_bottom;
}

/* ---- blocks ---- */

static void draw_text(struct printer *p, const char *text) {
    set_text(p, FACE_TEXT, text, page_width - 2 * margin, PANGO_ALIGN_LEFT, 0);
    int lines = p->f->pango_layout_get_line_count(p->layout);
    double height = lines > 0 ? size_of(p).height / lines : 0;
    double baseline = p->f->pango_layout_get_baseline(p->layout) / in_pango;
    for (int i = 0; i < lines; i++) {
        if (!fits(p, height)) {
            begin_page(p);
            set_text(p, FACE_TEXT, text, page_width - 2 * margin, PANGO_ALIGN_LEFT, 0);
        }
        if (p->cr != NULL) {
            p->f->cairo_move_to(p->cr, margin, p->y + baseline);
            p->f->pango_cairo_show_layout_line(p->cr,
                                               p->f->pango_layout_get_line_readonly(p->layout, i));
        }
        p->y += height;
    }
    p->y += 6;
}

/* ---- tables ---- */

struct grid {
    const struct block *block;
    double width[PAPER_COLUMNS_MAX];
    struct cell_size *sizes; /* by cell */
    double head_height;
};

static double least(double a, double b) {
    return a < b ? a : b;
}

/* Gives the columns their widths: those with a share take what the others leave. */
static void share_width(struct grid *g) {
    const struct block *block = g->block;
    double left = page_width - 2 * margin - gap * (block->column_count - 1);
    double wanted = 0;
    int shares = 0;
    for (int c = 0; c < block->column_count; c++) {
        if (block->columns[c].share == 0)
            left -= g->width[c];
        else
            wanted += g->width[c];
        shares += block->columns[c].share;
    }
    if (left < 120)
        left = 120; /* only with figures of absurd length */
    for (int c = 0; c < block->column_count; c++) {
        if (block->columns[c].share == 0)
            continue;
        if (wanted <= left)
            g->width[c] += (left - wanted) * block->columns[c].share / shares;
        else
            g->width[c] = left * block->columns[c].share / shares;
    }
}

/* Where some have too much room and others too little, the first give. */
static void even_out(struct grid *g, const double *natural) {
    double spare = 0;
    double lack = 0;
    for (int c = 0; c < g->block->column_count; c++) {
        if (g->block->columns[c].share == 0)
            continue;
        if (natural[c] < g->width[c])
            spare += g->width[c] - natural[c];
        else
            lack += natural[c] - g->width[c];
    }
    double moved = least(spare, lack);
    for (int c = 0; moved > 0 && c < g->block->column_count; c++) {
        if (g->block->columns[c].share == 0)
            continue;
        if (natural[c] < g->width[c])
            g->width[c] -= (g->width[c] - natural[c]) * moved / spare;
        else
            g->width[c] += (natural[c] - g->width[c]) * moved / lack;
    }
}

static enum face cell_face(const struct block *block, size_t i) {
    return block->columns[i % (size_t)block->column_count].large ? FACE_TITLE : FACE_CELL;
}

static int measure(struct printer *p, struct grid *g) {
    const struct block *block = g->block;
    int columns = block->column_count;
    double natural[PAPER_COLUMNS_MAX] = {0};
    double most = (page_width - 2 * margin) / 3;
    g->sizes = calloc(block->cell_count + 1, sizeof *g->sizes);
    if (g->sizes == NULL)
        return ERR_NOMEM;
    for (int c = 0; c < columns; c++) {
        set_text(p, FACE_STRONG, block->columns[c].head, 0, PANGO_ALIGN_LEFT, 0);
        struct cell_size size = size_of(p);
        natural[c] = size.width > block->columns[c].width ? size.width : block->columns[c].width;
        g->head_height = size.height > g->head_height ? size.height : g->head_height;
    }
    for (size_t i = 0; i < block->cell_count; i++) {
        int c = (int)(i % (size_t)columns);
        set_text(p, cell_face(block, i), block->cells[i], 0, PANGO_ALIGN_LEFT, 0);
        g->sizes[i] = size_of(p);
        count_unknown(p);
        if (g->sizes[i].width > natural[c])
            natural[c] = g->sizes[i].width;
    }
    for (int c = 0; c < columns; c++) {
        natural[c] += 0.5; /* lengths are cut to whole units somewhere on the way */
        g->width[c] = block->columns[c].share == 0 ? least(natural[c], most) : natural[c];
    }
    share_width(g);
    even_out(g, natural);
    return ERR_OK;
}

/* Where the text does not fit in one line, it is set once more. */
static void set_cell(struct printer *p, const struct grid *g, size_t i) {
    int c = (int)(i % (size_t)g->block->column_count);
    set_text(p, cell_face(g->block, i), g->block->cells[i], g->width[c],
             g->block->columns[c].right ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT, CELL_LINES);
}

static double row_height(struct printer *p, const struct grid *g, size_t row) {
    size_t columns = (size_t)g->block->column_count;
    double height = g->block->row_height;
    for (size_t c = 0; c < columns; c++) {
        size_t i = row * columns + c;
        double own = g->sizes[i].height;
        if (g->sizes[i].width > g->width[c]) {
            set_cell(p, g, i);
            own = size_of(p).height;
        }
        if (own + 2 * pad > height)
            height = own + 2 * pad;
    }
    return height;
}

static double column_left(const struct grid *g, int column) {
    double x = margin;
    for (int c = 0; c < column; c++)
        x += g->width[c] + gap;
    return x;
}

/* Lines beside the columns that are written in by hand. */
static void draw_boxes(struct printer *p, const struct grid *g, double height) {
    for (int c = 0; c < g->block->column_count; c++) {
        if (!g->block->columns[c].box)
            continue;
        double left = column_left(g, c) - gap / 2;
        double right = least(left + g->width[c] + gap, page_width - margin);
        rule(p, left, p->y, left, p->y + height, 0.4);
        rule(p, right, p->y, right, p->y + height, 0.4);
    }
}

static void draw_head(struct printer *p, const struct grid *g) {
    for (int c = 0; c < g->block->column_count; c++) {
        const struct paper_column *column = &g->block->columns[c];
        (void)line_at(p, FACE_STRONG, column->head, column_left(g, c), p->y + pad, g->width[c],
                      column->right ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT);
    }
    p->y += g->head_height + 2 * pad;
    rule(p, margin, p->y, page_width - margin, p->y, 0.6);
}

static void draw_row(struct printer *p, const struct grid *g, size_t row, double height) {
    size_t columns = (size_t)g->block->column_count;
    for (size_t c = 0; p->cr != NULL && c < columns; c++) {
        if (*g->block->cells[row * columns + c] == '\0')
            continue;
        set_cell(p, g, row * columns + c);
        show_at(p, column_left(g, (int)c), p->y + pad);
    }
    draw_boxes(p, g, height);
    p->y += height;
    rule(p, margin, p->y, page_width - margin, p->y, 0.2);
}

/* A row takes its table's head along to a new page, and a heading the first row of its table. */
static void draw_table(struct printer *p, const struct grid *g, const char *heading) {
    if (g->sizes == NULL)
        return; /* it was not measured: no table */
    size_t rows = g->block->cell_count / (size_t)g->block->column_count;
    double head = g->head_height + 2 * pad;
    double above = heading == NULL ? 0 : 26;
    for (size_t row = 0; row < rows || row == 0; row++) {
        double height = row < rows ? row_height(p, g, row) : 0;
        if (!fits(p, row == 0 ? above + head + height : height)) {
            begin_page(p);
            if (row > 0)
                draw_head(p, g);
        }
        if (row == 0 && heading != NULL)
            p->y += 6 + line_at(p, FACE_HEADING, heading, margin, p->y + 4, page_width - 2 * margin,
                                PANGO_ALIGN_LEFT);
        if (row == 0)
            draw_head(p, g);
        if (row < rows)
            draw_row(p, g, row, height);
    }
    p->y += 8;
}

static void draw_heading(struct printer *p, const char *text) {
    if (!fits(p, 48))
        begin_page(p);
    p->y += 6 + line_at(p, FACE_HEADING, text, margin, p->y + 4, page_width - 2 * margin,
                        PANGO_ALIGN_LEFT);
}

static void draw_all(struct printer *p, const struct grid *grids) {
    const struct paper_doc *doc = p->doc;
    p->page = 0;
    begin_page(p);
    for (size_t i = 0; i < doc->block_count; i++) {
        const struct block *block = &doc->blocks[i];
        bool leads = i + 1 < doc->block_count && doc->blocks[i + 1].kind == BLOCK_TABLE;
        bool led = i > 0 && doc->blocks[i - 1].kind == BLOCK_HEADING;
        if (block->kind == BLOCK_TEXT)
            draw_text(p, block->text);
        else if (block->kind == BLOCK_TABLE)
            draw_table(p, &grids[i], led ? doc->blocks[i - 1].text : NULL);
        else if (!leads)
            draw_heading(p, block->text);
    }
}

/* ---- the file ---- */

static cairo_status_t take_bytes(void *context, const unsigned char *bytes, unsigned len) {
    struct textbuf *pdf = context;
    textbuf_add(pdf, bytes, len);
    return pdf->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static int draw_file(struct printer *p, const struct grid *grids) {
    const struct pdf_library *f = p->f;
    struct textbuf made = {0};
    cairo_surface_t *surface =
        f->cairo_pdf_surface_create_for_stream(take_bytes, p->pdf, page_width, page_height);
    write_instant(&made, p->doc->head.made_ms);
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, p->doc->head.title);
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, p->doc->head.event);
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "cairn");
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, textbuf_text(&made));
    p->cr = f->cairo_create(surface);
    f->cairo_set_source_rgb(p->cr, 0, 0, 0);
    draw_all(p, grids);
    f->cairo_show_page(p->cr);
    cairo_status_t drawn = f->cairo_status(p->cr);
    f->cairo_destroy(p->cr);
    f->cairo_surface_finish(surface);
    cairo_status_t written = f->cairo_surface_status(surface);
    f->cairo_surface_destroy(surface);
    int err = made.failed || drawn != CAIRO_STATUS_SUCCESS || written != CAIRO_STATUS_SUCCESS
                  ? ERR_NOMEM
                  : ERR_OK;
    textbuf_clear(&made);
    return err;
}

static void set_up(struct printer *p) {
    static const struct {
        int size; /* tenths of a point */
        bool bold;
    } faces[FACE_COUNT] = {{150, true}, {105, true}, {90, false},
                           {75, false}, {75, true},  {65, false}};
    const struct pdf_library *f = p->f;
    if (room.fonts == NULL)
        room.fonts = f->pango_cairo_font_map_new();
    p->context = f->pango_font_map_create_context(room.fonts);
    /* What letters look like follows neither the machine's language nor its screen. */
    f->pango_context_set_language(p->context, f->pango_language_from_string("en"));
    f->pango_context_set_round_glyph_positions(p->context, FALSE);
    p->layout = f->pango_layout_new(p->context);
    f->pango_layout_set_wrap(p->layout, PANGO_WRAP_WORD_CHAR);
    for (int i = 0; i < FACE_COUNT; i++) {
        p->faces[i] = f->pango_font_description_new();
        f->pango_font_description_set_family(p->faces[i], "DejaVu Sans");
        f->pango_font_description_set_absolute_size(p->faces[i], faces[i].size / 10.0 * in_pango);
        f->pango_font_description_set_weight(p->faces[i], faces[i].bold ? PANGO_WEIGHT_BOLD
                                                                        : PANGO_WEIGHT_NORMAL);
    }
}

static void take_down(struct printer *p) {
    for (int i = 0; i < FACE_COUNT; i++)
        p->f->pango_font_description_free(p->faces[i]);
    p->f->g_object_unref(p->layout);
    p->f->g_object_unref(p->context);
}

/* With the lock held. */
static int draw(struct printer *p, struct grid *grids) {
    const struct paper_doc *doc = p->doc;
    int err = ERR_OK;
    set_up(p);
    set_text(p, FACE_TEXT, doc->head.event, 0, PANGO_ALIGN_LEFT, 0);
    count_unknown(p);
    set_text(p, FACE_TEXT, doc->head.title, 0, PANGO_ALIGN_LEFT, 0);
    count_unknown(p);
    for (size_t i = 0; err == ERR_OK && i < doc->block_count; i++) {
        grids[i].block = &doc->blocks[i];
        if (doc->blocks[i].kind == BLOCK_TABLE) {
            err = measure(p, &grids[i]);
        } else {
            set_text(p, FACE_TEXT, doc->blocks[i].text, 0, PANGO_ALIGN_LEFT, 0);
            count_unknown(p);
        }
    }
    if (err == ERR_OK) {
        draw_all(p, grids);
        p->pages = p->page;
        err = draw_file(p, grids);
    }
    take_down(p);
    return err;
}

int paper_print(const struct paper_doc *doc, struct textbuf *pdf, struct paper_count *count,
                struct textbuf *why) {
    struct printer p = {.f = pdf_library(why), .doc = doc, .pdf = pdf};
    *count = (struct paper_count){0};
    if (p.f == NULL)
        return ERR_IO;
    if (doc->failed)
        return ERR_NOMEM;
    if (*doc->head.address != '\0' && qr_modules(&p.modules, doc->head.address, &p.side) != ERR_OK)
        p.side = 0; /* too long for a code: it is printed as text */
    struct grid *grids = calloc(doc->block_count + 1, sizeof *grids);
    int err = grids == NULL ? ERR_NOMEM : ERR_OK;
    if (err == ERR_OK) {
        (void)pthread_mutex_lock(&room.lock);
        err = draw(&p, grids);
        (void)pthread_mutex_unlock(&room.lock);
    }
    for (size_t i = 0; grids != NULL && i < doc->block_count; i++)
        free(grids[i].sizes);
    free(grids);
    textbuf_clear(&p.modules);
    *count = (struct paper_count){p.pages, p.unknown};
    return err;
}
