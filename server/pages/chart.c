/* SPDX-License-Identifier: MIT */
#include "pages/chart.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "event/shown.h"

enum {
    WIDTH = 360,
    /* bars */
    BAR_ROW = 18,
    BAR_LABEL = 44,
    BAR_TEXT = 46,  /* room for a figure at the end of a bar */
    BAR_TIME = 66,  /* for a time, 0:12:34 */
    BAR_FAILS = 70, /* for fails behind it */
    /* lines */
    LINE_HEIGHT = 240,
    LINE_TOP = 18,
    LINE_BOTTOM = 222,
    LINE_LEFT = 6,
    LINE_RIGHT = 316,
    LINE_GAP = 15, /* least distance of two labels */
    /* spread */
    SPREAD_HEIGHT = 64,
    SPREAD_BASE = 44,
    SPREAD_TOP = 8,
    SPREAD_LEFT = 10,
    SPREAD_BINS = 68,
    SPREAD_BIN = 5,
    SPREAD_TAIL = 20
};

static void begin(struct textbuf *b, const char *kind, const char *name, int height) {
    textbuf_printf(
        b, "<svg class=\"chart %s\" viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"%s\">\n", kind,
        WIDTH, height, name);
}

static void put_short(struct textbuf *b, int64_t thousandths, bool as_time) {
    /* A figure on a drawing needs no more than a tenth; the table has it all. */
    if (as_time)
        shown_write_time(b, (thousandths + 500) / 1000 * 1000);
    else if (thousandths >= 100000)
        textbuf_int(b, (thousandths + 500) / 1000);
    else
        decimal_write_short(b, (thousandths + 50) / 100 * 100);
}

static int64_t at_most(int64_t value, int64_t most) {
    return value < most ? value : most;
}

static int scaled(int64_t value, int64_t most, int room) {
    return most <= 0 ? 0 : (int)(value * room / most);
}

/* What stands behind the end of a bar to the right: its figure, and fails, which have no length. */
static void put_late_text(struct textbuf *b, const struct chart_bar *bar, int x, int y,
                          bool as_time) {
    if (bar->late <= 0 && bar->fails == NULL)
        return;
    textbuf_printf(b, "<text x=\"%d\" y=\"%d\">", x + 4, y + 11);
    if (bar->late > 0)
        put_short(b, bar->late, as_time);
    if (bar->fails != NULL)
        textbuf_printf(b, "%s%s", bar->late > 0 ? ", " : "", bar->fails);
    textbuf_puts(b, "</text>");
}

void chart_bars(struct textbuf *b, const char *name, const struct chart_bar *bars, int count,
                bool as_time) {
    int64_t most_early = 0;
    int64_t most_late = 0;
    bool fails = false;
    for (int i = 0; i < count; i++) {
        fails = fails || bars[i].fails != NULL;
        most_early = bars[i].early > most_early ? bars[i].early : most_early;
        most_late = bars[i].late > most_late ? bars[i].late : most_late;
    }
    if (count == 0)
        return;
    int text = as_time ? BAR_TIME : BAR_TEXT;
    int room = WIDTH - BAR_LABEL - 2 * text - (fails ? BAR_FAILS : 0);
    int64_t both = most_early + most_late;
    int line = BAR_LABEL + text + scaled(most_early, both, room);
    int height = count * BAR_ROW + 4;
    begin(b, "bars", name, height);
    for (int i = 0; i < count; i++) {
        int y = i * BAR_ROW + 4;
        int early = scaled(bars[i].early, both, room);
        int late = scaled(bars[i].late, both, room);
        const char *hollow = bars[i].dropped ? " dropped" : "";
        textbuf_printf(b, "<text x=\"0\" y=\"%d\">%s</text>", y + 11, bars[i].label);
        if (bars[i].early > 0) {
            textbuf_printf(b, "<path class=\"early%s\" d=\"M%d %dh-%dv12h%dz\"/>", hollow, line, y,
                           early + 1, early + 1);
            textbuf_printf(b, "<text class=\"end\" x=\"%d\" y=\"%d\">", line - early - 4, y + 11);
            put_short(b, bars[i].early, as_time);
            textbuf_puts(b, "</text>");
        }
        if (bars[i].late > 0) {
            textbuf_printf(b, "<path class=\"late%s\" d=\"M%d %dh%dv12h-%dz\"/>", hollow, line, y,
                           late + 1, late + 1);
        }
        put_late_text(b, &bars[i], line + late, y, as_time);
        textbuf_putc(b, '\n');
    }
    textbuf_printf(b, "<path class=\"axis\" d=\"M%d 0v%d\"/></svg>\n", line, height);
}

static int line_x(int step, int count) {
    return LINE_LEFT + (count > 1 ? step * (LINE_RIGHT - LINE_LEFT) / (count - 1) : 0);
}

static int line_y(int64_t value, int64_t most) {
    return LINE_TOP + scaled(value, most, LINE_BOTTOM - LINE_TOP);
}

/* Where the labels stand: at the ends of their lines, but never on each other. */
static void place_labels(const struct chart_line *lines, int lines_count, int count, int64_t most,
                         int *y) {
    int order[CHART_LINES];
    for (int i = 0; i < lines_count; i++) {
        int at = i;
        for (; at > 0 && lines[order[at - 1]].values[count - 1] > lines[i].values[count - 1]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
    int free_from = LINE_TOP;
    for (int i = 0; i < lines_count; i++) {
        int wanted = line_y(lines[order[i]].values[count - 1], most);
        y[order[i]] = wanted > free_from ? wanted : free_from;
        free_from = y[order[i]] + LINE_GAP;
    }
    /* Those pushed below the edge push the ones above up again. */
    int free_to = LINE_BOTTOM;
    for (int i = lines_count - 1; i >= 0; i--) {
        if (y[order[i]] > free_to)
            y[order[i]] = free_to;
        free_to = y[order[i]] - LINE_GAP;
    }
}

void chart_lines(struct textbuf *b, const char *name, const struct chart_line *lines,
                 int lines_count, int count, const struct chart_mark *marks, int mark_count,
                 bool as_time) {
    int64_t most = 0;
    int label_y[CHART_LINES];
    if (count < 2 || lines_count < 1 || lines_count > CHART_LINES)
        return;
    for (int i = 0; i < lines_count; i++) {
        for (int s = 0; s < count; s++)
            most = lines[i].values[s] > most ? lines[i].values[s] : most;
    }
    begin(b, "lines", name, LINE_HEIGHT);
    for (int i = 0; i < mark_count; i++)
        textbuf_printf(b,
                       "<path class=\"mark\" d=\"M%d %dV%d\"/><text x=\"%d\" y=\"%d\">%s</text>\n",
                       line_x(marks[i].step, count), LINE_TOP - 6, LINE_BOTTOM + 4,
                       line_x(marks[i].step, count) + 2, LINE_HEIGHT - 4, marks[i].label);
    textbuf_printf(b, "<path class=\"axis\" d=\"M%d %dH%d\"/>\n", LINE_LEFT, LINE_TOP, LINE_RIGHT);
    textbuf_printf(b, "<text x=\"%d\" y=\"%d\">", LINE_LEFT, LINE_BOTTOM - 2);
    if (most > 0) {
        textbuf_puts(b, "+");
        put_short(b, most, as_time);
    }
    textbuf_puts(b, "</text>\n");
    place_labels(lines, lines_count, count, most, label_y);
    for (int i = 0; i < lines_count; i++) {
        textbuf_printf(b, "<path class=\"line l%d\" d=\"M", i + 1);
        for (int s = 0; s < count; s++)
            textbuf_printf(b, "%s%d %d", s > 0 ? " " : "", line_x(s, count),
                           line_y(lines[i].values[s], most));
        textbuf_printf(b, "\"/><text class=\"name\" x=\"%d\" y=\"%d\">%d</text>\n", LINE_RIGHT + 6,
                       label_y[i] + 4, lines[i].number);
    }
    textbuf_puts(b, "</svg>\n");
}

static int by_value(const void *a, const void *b) {
    int64_t x = *(const int64_t *)a;
    int64_t y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

void chart_range(const int64_t *values, int count, int64_t *sorted, struct chart_axis *axis) {
    memcpy(sorted, values, (size_t)count * sizeof *sorted);
    qsort(sorted, (size_t)count, sizeof *sorted, by_value);
    axis->low = sorted[count / SPREAD_TAIL];
    axis->high = sorted[count - 1 - count / SPREAD_TAIL];
}

static int bin_of(int64_t value, int64_t low, int64_t high) {
    if (value <= low)
        return 0;
    int64_t bin = (value - low) * (SPREAD_BINS - 1) / (high - low);
    return (int)at_most(bin, SPREAD_BINS - 1);
}

void chart_spread(struct textbuf *b, const char *name, const int64_t *values, int count, int marked,
                  const struct chart_axis *axis) {
    int bins[SPREAD_BINS] = {0};
    int most = 0;
    int64_t low = axis->low;
    int64_t high = axis->high == low ? low + 1 : axis->high;
    if (count == 0)
        return;
    for (int i = 0; i < count; i++) {
        int n = ++bins[bin_of(values[i], low, high)];
        most = n > most ? n : most;
    }
    begin(b, "spread", name, SPREAD_HEIGHT);
    textbuf_puts(b, "<path class=\"field\" d=\"");
    for (int i = 0; i < SPREAD_BINS; i++) {
        int height = scaled(bins[i], most, SPREAD_BASE - SPREAD_TOP - 8);
        if (bins[i] > 0)
            textbuf_printf(b, "M%d %dv-%dh4v%dz", SPREAD_LEFT + i * SPREAD_BIN, SPREAD_BASE,
                           height + 2, height + 2);
    }
    textbuf_printf(b, "\"/><path class=\"axis\" d=\"M%d %dh%d\"/>", SPREAD_LEFT, SPREAD_BASE,
                   SPREAD_BINS * SPREAD_BIN);
    if (low < 0 && high > 0) {
        int x = SPREAD_LEFT + bin_of(0, low, high) * SPREAD_BIN + 2;
        textbuf_printf(
            b,
            "<path class=\"zero\" d=\"M%d %dV%d\"/><text class=\"mid\" x=\"%d\" y=\"%d\">0</text>",
            x, SPREAD_TOP - 4, SPREAD_BASE + 4, x, SPREAD_HEIGHT - 6);
    }
    textbuf_printf(
        b, "<text x=\"%d\" y=\"%d\">%s</text><text class=\"end\" x=\"%d\" y=\"%d\">%s</text>",
        SPREAD_LEFT, SPREAD_HEIGHT - 6, axis->low_text, WIDTH - 10, SPREAD_HEIGHT - 6,
        axis->high_text);
    if (marked >= 0) {
        int x = SPREAD_LEFT + bin_of(values[marked], low, high) * SPREAD_BIN + 2;
        textbuf_printf(b, "<path class=\"mine\" d=\"M%d %dl-5 -8h10zM%d %dv%d\"/>", x,
                       SPREAD_TOP + 2, x, SPREAD_TOP, SPREAD_BASE - SPREAD_TOP);
    }
    textbuf_puts(b, "</svg>\n");
}
