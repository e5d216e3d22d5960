/* SPDX-License-Identifier: MIT */
/* chart.h - drawings for the pages, as SVG made on the server from whole numbers.
 * They are drawn for the width of a phone and grow with the page; colours come from the style
 * sheet, and shape or place tells the same as colour. Every drawing has a table beside it that
 * says the same; the caller writes it. Units of a drawing are 1/360 of its width. */
#ifndef CAIRN_CHART_H
#define CAIRN_CHART_H

#include <stdbool.h>
#include <stdint.h>

#include "base/textbuf.h"

/* One row: what was lost too early to the left of the line, all else to the right. */
struct chart_bar {
    const char *label; /* id of a test: letters, digits, "-" */
    int64_t early;     /* thousandths, 0 and more */
    int64_t late;
    bool dropped; /* drawn hollow */
};

/* Appends rows of bars on both sides of a line; nothing where there is none.
 *   name  what the drawing is, for readers of the screen; HTML */
void chart_bars(struct textbuf *b, const char *name, const struct chart_bar *bars, int count);

enum { CHART_LINES = 6 };

/* One car's line. */
struct chart_line {
    int number;            /* at its end */
    const int64_t *values; /* thousandths behind the best, 0 and more; `count` of them */
};

/* A mark at a step of the lines: where a day begins, say. */
struct chart_mark {
    int step;
    const char *label; /* letters, digits, "-" */
};

/* Appends up to CHART_LINES lines over `count` steps, the best at the top. */
void chart_lines(struct textbuf *b, const char *name, const struct chart_line *lines,
                 int lines_count, int count, const struct chart_mark *marks, int mark_count);

/* Appends how values are spread: a column of dots' height for each stretch of the axis, a line at
 * zero where it is in range, and one value marked.
 *   values  `count` of them, any order
 *   marked  index of the marked one, -1 for none
 *   low, high  text for the ends of the axis; letters, digits, signs */
void chart_spread(struct textbuf *b, const char *name, const int64_t *values, int count, int marked,
                  const char *low, const char *high);

/* The ends of the axis that chart_spread takes for these values: all but one in twenty at each end
 * lie within. `count` at least 1. */
void chart_range(const int64_t *values, int count, int64_t *low, int64_t *high);

#endif
