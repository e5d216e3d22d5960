/* SPDX-License-Identifier: MIT */
/* Sets a document out on pages and draws it. The pages are set out twice, since the foot of the
 * first one says how many there are: once to count, once to draw. */
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "paper/pairs.h"
#include "paper/table_layout.h"
#include "system/qr.h"
#include "system/system_clock.h"

/* The fonts that were found are kept from paper to paper; whoever draws holds the lock. */
static struct {
    pthread_mutex_t lock;
    PangoFontMap *fonts;
} shared = {.lock = PTHREAD_MUTEX_INITIALIZER};

static void draw_text(struct printer *p, const char *text) {
    printer_set_text(p, FACE_TEXT, text, PAGE_WIDTH - 2 * PAGE_MARGIN, PANGO_ALIGN_LEFT, 0);
    int lines = p->f->pango_layout_get_line_count(p->layout);
    double height = lines > 0 ? printer_size(p).height / lines : 0;
    double baseline = p->f->pango_layout_get_baseline(p->layout) / IN_PANGO;
    for (int i = 0; i < lines; i++) {
        if (!printer_fits(p, height)) {
            printer_begin_page(p);
            printer_set_text(p, FACE_TEXT, text, PAGE_WIDTH - 2 * PAGE_MARGIN, PANGO_ALIGN_LEFT, 0);
        }
        if (p->cr != NULL) {
            p->f->cairo_move_to(p->cr, PAGE_MARGIN, p->y + baseline);
            p->f->pango_cairo_show_layout_line(p->cr,
                                               p->f->pango_layout_get_line_readonly(p->layout, i));
        }
        p->y += height;
    }
    p->y += 6;
}

static void draw_heading(struct printer *p, const char *text) {
    if (!printer_fits(p, 48))
        printer_begin_page(p);
    p->y += 6 + printer_line(p, FACE_HEADING, text, PAGE_MARGIN, p->y + 4,
                             PAGE_WIDTH - 2 * PAGE_MARGIN, PANGO_ALIGN_LEFT);
}

static void draw_all(struct printer *p, const struct table_layout *tables) {
    const struct paper_doc *doc = p->doc;
    p->page = 0;
    printer_begin_page(p);
    for (size_t i = 0; i < doc->block_count; i++) {
        const struct block *block = &doc->blocks[i];
        bool leads = i + 1 < doc->block_count && doc->blocks[i + 1].kind == BLOCK_TABLE;
        bool led = i > 0 && doc->blocks[i - 1].kind == BLOCK_HEADING;
        if (block->kind == BLOCK_TEXT)
            draw_text(p, block->text);
        else if (block->kind == BLOCK_PAIR)
            pair_draw(p, block->text);
        else if (block->kind == BLOCK_CODE)
            code_draw(p, block->text);
        else if (block->kind == BLOCK_PAGE)
            printer_begin_page(p);
        else if (block->kind == BLOCK_TABLE)
            table_layout_draw(p, &tables[i], led ? doc->blocks[i - 1].text : NULL);
        else if (!leads)
            draw_heading(p, block->text);
    }
}

static cairo_status_t take_bytes(void *context, const unsigned char *bytes, unsigned len) {
    struct textbuf *pdf = context;
    textbuf_add(pdf, bytes, len);
    return pdf->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static int draw_file(struct printer *p, const struct table_layout *tables) {
    const struct pdf_library *f = p->f;
    struct textbuf made = {0};
    cairo_surface_t *surface =
        f->cairo_pdf_surface_create_for_stream(take_bytes, p->pdf, PAGE_WIDTH, PAGE_HEIGHT);
    write_instant(&made, p->doc->head.made_ms);
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, p->doc->head.title);
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, p->doc->head.event);
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "cairn");
    f->cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, textbuf_text(&made));
    p->cr = f->cairo_create(surface);
    f->cairo_set_source_rgb(p->cr, 0, 0, 0);
    draw_all(p, tables);
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
    } faces[FACE_COUNT] = {{150, true}, {105, true}, {90, false}, {75, false},
                           {75, true},  {65, false}, {110, false}};
    const struct pdf_library *f = p->f;
    if (shared.fonts == NULL)
        shared.fonts = f->pango_cairo_font_map_new();
    p->context = f->pango_font_map_create_context(shared.fonts);
    /* What letters look like follows neither the machine's language nor its screen. */
    f->pango_context_set_language(p->context, f->pango_language_from_string("en"));
    f->pango_context_set_round_glyph_positions(p->context, FALSE);
    p->layout = f->pango_layout_new(p->context);
    f->pango_layout_set_wrap(p->layout, PANGO_WRAP_WORD_CHAR);
    for (int i = 0; i < FACE_COUNT; i++) {
        p->faces[i] = f->pango_font_description_new();
        f->pango_font_description_set_family(p->faces[i], "DejaVu Sans");
        f->pango_font_description_set_absolute_size(p->faces[i], faces[i].size / 10.0 * IN_PANGO);
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
static int draw(struct printer *p, struct table_layout *tables) {
    const struct paper_doc *doc = p->doc;
    int err = ERR_OK;
    set_up(p);
    printer_set_text(p, FACE_TEXT, doc->head.event, 0, PANGO_ALIGN_LEFT, 0);
    printer_count_unknown(p);
    printer_set_text(p, FACE_TEXT, doc->head.title, 0, PANGO_ALIGN_LEFT, 0);
    printer_count_unknown(p);
    for (size_t i = 0; err == ERR_OK && i < doc->block_count; i++) {
        if (doc->blocks[i].kind == BLOCK_TABLE) {
            err = table_layout_measure(p, &tables[i], &doc->blocks[i]);
        } else {
            printer_set_text(p, FACE_TEXT, doc->blocks[i].text, 0, PANGO_ALIGN_LEFT, 0);
            printer_count_unknown(p);
        }
    }
    if (err == ERR_OK) {
        draw_all(p, tables);
        p->pages = p->page;
        err = draw_file(p, tables);
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
    struct table_layout *tables = calloc(doc->block_count + 1, sizeof *tables);
    int err = tables == NULL ? ERR_NOMEM : ERR_OK;
    if (err == ERR_OK) {
        (void)pthread_mutex_lock(&shared.lock);
        err = draw(&p, tables);
        (void)pthread_mutex_unlock(&shared.lock);
    }
    for (size_t i = 0; tables != NULL && i < doc->block_count; i++)
        free(tables[i].sizes);
    free(tables);
    textbuf_clear(&p.modules);
    *count = (struct paper_count){p.pages, p.unknown};
    return err;
}
