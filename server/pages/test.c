/* SPDX-License-Identifier: MIT */
/* One test: its results, how it is scored, how the field is spread, who was best at what. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api/arguments.h"
#include "base/err.h"
#include "base/times.h"
#include "event/kind.h"
#include "pages/chart.h"
#include "pages/how_scored.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"

enum { SPREADS_MAX = 6, NAMED_MAX = 6 };

/* Every car's scored points at one test. */
struct field {
    const struct scores *s;
    const struct item *item;
    int cars;
    struct scored_point *points; /* [car * scored_count + n] */
    int marked;                  /* the reader's car, -1 */
    const struct standings *st;
};

static const struct scored_point *point_of(const struct field *f, int car, int n) {
    return &f->points[car * f->item->scored_count + n];
}

/* The list belongs to the request. */
static int field_fill(struct field *f, struct request *r, const struct scores *s,
                      const struct item *item) {
    size_t count = (size_t)item->scored_count;
    f->s = s;
    f->item = item;
    f->cars = s->event->entries->count;
    f->points = request_array(r, (size_t)f->cars * count + 1, sizeof *f->points);
    if (f->points == NULL)
        return ERR_NOMEM;
    for (int car = 0; car < f->cars; car++) {
        struct score_sheet sheet;
        int err = scores_sheet(s, car, &sheet);
        if (err == ERR_OK)
            memcpy(f->points + (size_t)car * count, sheet.scored + item->first_scored,
                   count * sizeof *f->points);
        score_sheet_clear(&sheet);
        if (err != ERR_OK)
            return err;
    }
    return ERR_OK;
}

/* What is shown of a point: how far off it was, or the elapsed where there is no target. */
static int64_t measure_of(const struct field *f, int car, int n) {
    const struct scored_point *w = point_of(f, car, n);
    if (w->reading == NULL || w->state == STATE_MISSED || w->state == STATE_ABSENT)
        return TIME_NONE;
    return f->item->kind == KIND_SPECIAL_TEST ? w->actual : w->deviation;
}

/* A deviation has a sign, an elapsed time none. */
static const char *sign_of(const struct field *f, int64_t measure) {
    return f->item->kind != KIND_SPECIAL_TEST && measure > 0 ? "+" : "";
}

/* The precision of the `n`th point. */
static int64_t precision_of(const struct field *f, int n) {
    return item_rule(f->item, f->item->first_scored + n)->precision;
}

/* A measure of the `n`th point for the axis of a picture. */
static const char *axis_text(const struct page *p, const struct field *f, int n, int64_t measure) {
    struct textbuf *text = request_text(p->r);
    struct textbuf *out = request_text(p->r);
    time_write(text, measure, unit_decimals(precision_of(f, n)));
    textbuf_puts(out, sign_of(f, measure));
    words_figure(out, p->lang, textbuf_text(text));
    return textbuf_text(out);
}

/* All measures of one point.
 *   values  has room for every car
 *   marked  gets the place of the reader's car among them, -1
 * Returns how many there are. */
static int list_measures(const struct field *f, int n, int64_t *values, int *marked) {
    int count = 0;
    *marked = -1;
    for (int car = 0; car < f->cars; car++) {
        int64_t value = measure_of(f, car, n);
        if (value == TIME_NONE)
            continue;
        if (car == f->marked)
            *marked = count;
        values[count++] = value;
    }
    return count;
}

/* `values` and `sorted` are room for a value of each car. */
static void write_spread(struct page *p, const struct field *f, int n, int64_t *values,
                         int64_t *sorted) {
    struct chart_axis axis;
    int marked;
    int count = list_measures(f, n, values, &marked);
    if (count == 0)
        return;
    chart_range(values, count, sorted, &axis);
    axis.low_text = axis_text(p, f, n, axis.low);
    axis.high_text = axis_text(p, f, n, axis.high);
    textbuf_printf(&p->m, "<p class=\"strip\">%s", p->rules->scored[f->item->first_scored + n].id);
    if (marked >= 0) {
        textbuf_puts(&p->m, " · ▼ ");
        put_plate(p, f->marked);
        textbuf_putc(&p->m, ' ');
        put_time(p, values[marked], precision_of(f, n));
    }
    textbuf_puts(&p->m, "</p>\n");
    chart_spread(&p->m, said(p, "spread-name"), values, count, marked, &axis);
}

static void write_spreads(struct page *p, const struct field *f) {
    int64_t *values = request_array(p->r, (size_t)f->cars + 1, sizeof *values);
    int64_t *sorted = request_array(p->r, (size_t)f->cars + 1, sizeof *sorted);
    if (values == NULL || sorted == NULL) {
        p->m.failed = true;
        return;
    }
    textbuf_puts(&p->m, "<figure>\n<figcaption>");
    say(p, f->item->kind == KIND_SPECIAL_TEST ? "spread-times" : "spread");
    textbuf_puts(&p->m, "</figcaption>\n");
    for (int n = 0; n < f->item->scored_count && n < SPREADS_MAX; n++)
        write_spread(p, f, n, values, sorted);
    textbuf_puts(&p->m, "</figure>\n");
}

static void write_mark_form(struct page *p, const struct field *f) {
    textbuf_printf(&p->m, "<form action=\"/%s/tests/%s\" method=\"get\" class=\"find\">",
                   p->rules->slug, f->item->id);
    if (request_names_language(p->r))
        textbuf_printf(&p->m, "<input type=\"hidden\" name=\"lang\" value=\"%s\">",
                       lang_code(p->lang));
    textbuf_puts(&p->m, "<label>");
    say(p, "mark-car");
    textbuf_puts(
        &p->m,
        " <input type=\"text\" name=\"car\" id=\"mark\" inputmode=\"numeric\" maxlength=\"4\" "
        "size=\"4\" value=\"");
    if (f->marked >= 0)
        textbuf_int(&p->m, p->event->entries->list[f->marked].number);
    textbuf_puts(&p->m, "\"></label> <button type=\"submit\">");
    say(p, "show");
    textbuf_puts(&p->m, "</button></form>\n");
}

static void put_car(struct page *p, int car) {
    put_plate(p, car);
    textbuf_puts(&p->m, " <a ");
    page_href(p, "cars/%d", p->event->entries->list[car].number);
    textbuf_putc(&p->m, '>');
    put_crew(p, car);
    textbuf_puts(&p->m, "</a>");
}

/* The quickest of a special test; elsewhere the smallest sum of deviations. */
static int best_measure(const struct field *f, int64_t *out) {
    int best = -1;
    for (int car = 0; car < f->cars; car++) {
        int64_t sum = 0;
        bool whole = true;
        for (int n = 0; n < f->item->scored_count && whole; n++) {
            int64_t value = measure_of(f, car, n);
            whole = value != TIME_NONE;
            sum += whole ? llabs(value) : 0;
        }
        if (whole && (best < 0 || sum < *out)) {
            best = car;
            *out = sum;
        }
    }
    return best;
}

/* How many of a group's cars have fails there, and which. */
static void write_failed(struct page *p, const struct standings_group *g) {
    int count = 0;
    for (int i = 0; i < g->placed_count; i++)
        count += g->placed[i].fails > 0;
    if (count == 0)
        return;
    textbuf_puts(&p->m, "<div><dt>");
    say(p, "fails-head");
    textbuf_puts(&p->m, "</dt><dd>");
    say_count(p, "clean-cars", count, NULL);
    /* Fewer fails stand before more. */
    int first = g->placed_count - count;
    for (int i = 0; i < count && i < NAMED_MAX; i++) {
        textbuf_putc(&p->m, ' ');
        put_plate(p, g->placed[first + i].car);
    }
    textbuf_puts(&p->m, count > NAMED_MAX ? " …</dd></div>\n" : "</dd></div>\n");
}

static void write_bests(struct page *p, const struct field *f, const struct standings_group *g) {
    int64_t value = 0;
    int best = best_measure(f, &value);
    int clean = 0;
    if (best < 0)
        return;
    textbuf_puts(&p->m, "<dl class=\"summary\">\n<div><dt>");
    say(p, f->item->kind == KIND_SPECIAL_TEST ? "fastest" : "closest");
    textbuf_puts(&p->m, "</dt><dd><strong>");
    put_time(p, value, f->item->rule.precision);
    textbuf_puts(&p->m, "</strong> ");
    put_car(p, best);
    textbuf_puts(&p->m, "</dd></div>\n<div><dt>");
    say(p, "cleanest");
    textbuf_puts(&p->m, "</dt><dd>");
    while (clean < g->placed_count && g->placed[clean].penalty == 0 && g->placed[clean].fails == 0)
        clean++;
    say_count(p, "clean-cars", clean, NULL);
    for (int i = 0; i < clean && i < NAMED_MAX; i++) {
        textbuf_putc(&p->m, ' ');
        put_plate(p, g->placed[i].car);
    }
    textbuf_puts(&p->m, clean > NAMED_MAX ? " …</dd></div>\n" : "</dd></div>\n");
    write_failed(p, g);
    textbuf_puts(&p->m, "</dl>\n");
}

/* What a row of a car is of, besides the car. */
struct result {
    const struct field *f;
    const struct standing *standing;
    bool known; /* its penalty is a result */
    bool placed;
};

static const struct result *result_of(const struct table_row *row) {
    return row->of;
}

static void write_place(struct page *p, const struct table_row *row) {
    const struct standing *standing = result_of(row)->standing;
    if (result_of(row)->placed)
        cell_place(p, standing->position, standing->equal);
    else
        textbuf_puts(&p->m, "<td></td>");
}

static void write_penalty(struct page *p, const struct table_row *row) {
    cell_known(p, result_of(row)->standing->penalty, result_of(row)->known);
}

static void write_to_leader(struct page *p, const struct table_row *row) {
    if (result_of(row)->placed)
        cell_gap(p, result_of(row)->standing->behind_leader, true);
    else
        textbuf_puts(&p->m, "<td></td>");
}

static void write_fails(struct page *p, const struct table_row *row) {
    cell_number(p, result_of(row)->standing->fails);
}

/* Every point's measure in one cell. */
static void write_measures(struct page *p, const struct table_row *row) {
    const struct field *f = result_of(row)->f;
    textbuf_puts(&p->m, "<td>");
    for (int n = 0; n < f->item->scored_count; n++) {
        int64_t value = measure_of(f, row->car, n);
        textbuf_puts(&p->m, n > 0 ? " · " : "");
        if (point_of(f, row->car, n)->state == STATE_OFF) {
            textbuf_puts(&p->m, "–");
            continue;
        }
        if (value == TIME_NONE) {
            say(p, state_word(point_of(f, row->car, n)->state));
        } else {
            textbuf_puts(&p->m, sign_of(f, value));
            put_time(p, value, precision_of(f, n));
        }
    }
    textbuf_puts(&p->m, "</td>");
}

static const struct standing *best_of_class(const struct page *p, const struct standings_group *g,
                                            int class_index) {
    for (int i = 0; i < g->placed_count; i++) {
        if (p->event->entries->list[g->placed[i].car].class_index == class_index)
            return &g->placed[i];
    }
    return NULL;
}

static void write_era_leaders(struct page *p, const struct field *f,
                              const struct standings_group *g) {
    static const struct table_cell cells[] = {
        {"era", .write = cell_class},        {"car", .write = cell_plate},
        {"crew", .write = cell_crew},        {"place", .write = write_place},
        {"penalty", .write = write_penalty}, {.key = NULL}};
    struct table t;
    table_begin(&t, p, "leaders", "leaders", caption_text(said(p, "era-leaders")), cells);
    for (int i = 0; i < rules_class_count(p->rules); i++) {
        const struct standing *best = best_of_class(p, g, i);
        if (best == NULL)
            continue;
        textbuf_puts(&p->m, "<tr>");
        table_cells(&t, best->car, &(struct result){f, best, true, true});
    }
    table_end(p);
}

static void write_rows(struct page *p, const struct field *f, const struct standings_group *g,
                       const struct standing *rows, int count, const char *caption) {
    bool special = f->item->kind == KIND_SPECIAL_TEST;
    const struct table_cell cells[] = {
        {"place", .write = write_place},
        {"car", .write = cell_plate},
        {"crew", .write = cell_crew},
        {"penalty", .write = write_penalty},
        {"to-leader", .write = write_to_leader},
        {"fails", .write = write_fails},
        {"measures", .write = write_measures, .words = special ? "times" : NULL},
        {.key = NULL}};
    struct table t;
    table_begin(&t, p, "results", "results", caption_text(said(p, caption)), cells);
    for (int i = 0; i < count; i++) {
        int car = rows[i].car;
        textbuf_printf(&p->m, "<tr id=\"n%d\"%s>", p->event->entries->list[car].number,
                       car == f->marked ? " class=\"mine\"" : "");
        table_cells(
            &t, car,
            &(struct result){f, &rows[i], standings_known(f->st, g, car), rows == g->placed});
    }
    table_end(p);
}

static void write_results(struct page *p, const struct field *f, const struct standings_group *g) {
    write_rows(p, f, g, g->placed, g->placed_count, "results");
    if (g->pending_count > 0)
        write_rows(p, f, g, g->pending, g->pending_count, "still-awaited");
    if (g->unplaced_count > 0)
        write_rows(p, f, g, g->unplaced, g->unplaced_count, "without-place");
}

static void write_test(struct page *p, const struct field *f, const struct standings_group *g) {
    char day[16];
    (void)snprintf(day, sizeof day, "%d", f->item->day + 1);
    textbuf_puts(&p->m, "<h1>");
    put_item(p, f->item, false);
    textbuf_puts(&p->m, "</h1>\n<p class=\"vehicle\">");
    say(p, kind_name(f->item->kind));
    textbuf_puts(&p->m, ", ");
    say_with(p, "day", day, NULL, NULL);
    textbuf_puts(&p->m, "</p>\n");
    page_state(p);
    write_bests(p, f, g);
    how_scored_write(p, f->item);
    write_spreads(p, f);
    if (!page_is_copy(p))
        write_mark_form(p, f);
    write_era_leaders(p, f, g);
    write_results(p, f, g);
}

unsigned page_test(struct request *r, struct textbuf *b) {
    static const struct standings_group nobody = {0};
    struct shown_scores s = {0};
    struct standings *st = NULL;
    struct field f = {.marked = -1};
    struct page p;
    char downloads[128];
    const char *car = request_query(r, "car");
    int place = -1;
    unsigned status = request_test(r, &place);
    if (status != 0)
        return status;
    const struct item *item = &r->snapshot->event.rules->items[place];
    int err = request_scores(r, -1, &s);
    if (err == ERR_OK)
        err = request_standings(r, s.scores, BY_TEST, place, &st);
    if (err == ERR_OK)
        err = field_fill(&f, r, s.scores, item);
    page_begin(&p, r, err == ERR_OK ? s.view : r->results->view);
    if (err != ERR_OK)
        return page_give_up(&p);
    f.st = st;
    if (car != NULL)
        f.marked = entries_find(p.event->entries, strtol(car, NULL, 10));
    write_test(&p, &f, st->group_count > 0 ? &st->groups[0] : &nobody);
    struct textbuf *title = request_text(r);
    textbuf_printf(title, "%s %s", item->id, item->name);
    (void)snprintf(downloads, sizeof downloads, "tests/%s", item->id);
    return page_finish(
        &p, b,
        &(struct page_frame){
            .title = textbuf_text(title), .here = "tests", .downloads = downloads, .csv = true});
}
