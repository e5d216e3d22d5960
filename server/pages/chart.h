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
    bool dropped;      /* it counts in no total: drawn hollow */
    const char *fails; /* in words, behind what was late; HTML, NULL for none */
};

/* Appends rows of bars on both sides of a line; nothing where there is none.
 *   name     what the drawing is, for readers of the screen; HTML
 *   as_time  its figures are written as time, a point being a second */
void chart_bars(struct textbuf *b, const char *name, const struct chart_bar *bars, int count,
                bool as_time);

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
                 int lines_count, int count, const struct chart_mark *marks, int mark_count,
                 bool as_time);

/* The axis of a spread: its ends, and what is written there (letters, digits, signs). */
struct chart_axis {
    int64_t low, high;
    const char *low_text, *high_text;
};

/* Finds the ends of the axis for these values: all but one in twenty at each end lie within.
 *   values  `count` of them, at least 1
 *   sorted  room for as many, which gets them in order */
void chart_range(const int64_t *values, int count, int64_t *sorted, struct chart_axis *axis);

/* Appends how values are spread: a column of dots' height for each stretch of the axis, a line at
 * zero where it is in range, and one value marked.
 *   values  `count` of them, any order
 *   marked  index of the marked one, -1 for none */
void chart_spread(struct textbuf *b, const char *name, const int64_t *values, int count, int marked,
                  const struct chart_axis *axis);

#endif
