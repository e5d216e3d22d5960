/* SPDX-License-Identifier: MIT */
/* printer.h - pages as they are drawn: letters, lines, and the frame around each. Lengths are
 * points of 1/72 inch, from the upper left corner of an A4 page. One owner at a time; whoever draws
 * holds the lock of print.c. */
#ifndef CAIRN_PRINTER_H
#define CAIRN_PRINTER_H

#include <stdbool.h>

#include "base/textbuf.h"
#include "paper/paper_private.h"
#include "system/pdf_library.h"

static const double PAGE_WIDTH = 595.276;
static const double PAGE_HEIGHT = 841.89;
static const double PAGE_MARGIN = 34;
static const double BODY_BOTTOM = 841.89 - 82; /* below it stands the foot */
static const double COLUMN_GAP = 6;
static const double IN_PANGO = PANGO_SCALE; /* its units in a point */

enum face {
    FACE_TITLE,
    FACE_HEADING,
    FACE_TEXT,
    FACE_CELL,
    FACE_STRONG,
    FACE_SMALL,
    FACE_LARGE,
    FACE_COUNT
};

struct text_size {
    double width, height;
};

struct printer {
    const struct pdf_library *f;
    const struct paper_doc *doc;
    PangoContext *context;
    PangoLayout *layout;
    PangoFontDescription *faces[FACE_COUNT];
    cairo_t *cr; /* NULL while pages are counted */
    double y;    /* where the next block begins */
    int page, pages;
    int unknown; /* letters that no font has */
    struct textbuf *pdf;
    struct textbuf modules; /* of the QR code */
    int side;               /* modules in a row of it; 0 for none */
};

/* Sets the text of the layout.
 *   width  0 for as wide as it is
 *   lines  at most; 0 for as many as it needs */
void printer_set_text(struct printer *p, enum face face, const char *text, double width,
                      PangoAlignment side, int lines);

/* Counts the letters of the text set that no font has. To be called once for each text. */
void printer_count_unknown(struct printer *p);

/* How large the text set is. */
struct text_size printer_size(const struct printer *p);

/* Draws the text set, its upper left corner there. */
void printer_show(struct printer *p, double x, double y);

/* Draws one line of text, cut where it is wider. Returns its height. */
double printer_line(struct printer *p, enum face face, const char *text, double x, double y,
                    double width, PangoAlignment side);

/* Draws a straight line. */
void printer_rule(struct printer *p, double x1, double y1, double x2, double y2, double width);

/* Draws a QR code of that width with its quiet zone; nothing where it has no modules.
 *   modules  see qr_modules, with `side` of them in a row */
void printer_code(struct printer *p, const struct textbuf *modules, int side, double x, double y,
                  double width);

/* Ends the page, begins the next and draws its frame. */
void printer_begin_page(struct printer *p);

/* True where so much more has room on the page. */
bool printer_fits(const struct printer *p, double height);

#endif
