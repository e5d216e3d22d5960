/* SPDX-License-Identifier: MIT */
/* One test: its results, how it is scored, how the field is spread, who was best at what. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api/arguments.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/kind.h"
#include "pages/chart.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "scoring/kinds/checks_and_pads.h"
#include "scoring/kinds/consistency.h"
#include "scoring/kinds/special_test.h"
#include "system/html.h"

enum { SPREADS_MAX = 6, NAMED_MAX = 6 };

/* Every car's scored points at one test. */
struct field {
    const struct scores *s;
    const struct item *item;
    int cars;
    struct scored_point *workings; /* [car * scored_count + n] */
    int marked;                    /* the reader's car, -1 */
    const struct standings *st;
};

static const struct scored_point *working_of(const struct field *f, int car, int n) {
    return &f->workings[car * f->item->scored_count + n];
}

static int field_fill(struct field *f, const struct scores *s, const struct item *item) {
    f->s = s;
    f->item = item;
    f->cars = s->event->entries->count;
    f->workings = calloc((size_t)f->cars * (size_t)item->scored_count + 1, sizeof *f->workings);
    if (f->workings == NULL)
        return ERR_NOMEM;
    for (int car = 0; car < f->cars; car++) {
        struct score_sheet sheet;
        int err = scores_sheet(s, car, &sheet);
        if (err == ERR_OK)
            memcpy(f->workings + (ptrdiff_t)car * item->scored_count,
                   sheet.scored + item->first_scored,
                   (size_t)item->scored_count * sizeof *f->workings);
        score_sheet_clear(&sheet);
        if (err != ERR_OK)
            return err;
    }
    return ERR_OK;
}

/* What is shown of a point: how far off it was, or the elapsed where there is no target. */
static int64_t measure_of(const struct field *f, int car, int n) {
    const struct scored_point *w = working_of(f, car, n);
    if (w->reading == NULL || w->state == STATE_MISSED || w->state == STATE_ABSENT)
        return TIME_NONE;
    return f->item->kind == KIND_SPECIAL_TEST ? w->actual : w->deviation;
}

/* A rate, cap or cost in a sentence. */
static void say_amount(struct page *p, const char *key, int64_t amount, const char *unit) {
    struct textbuf text = {0};
    struct textbuf figure = {0};
    decimal_write_short(&text, amount);
    words_figure(&figure, p->lang, textbuf_text(&text));
    textbuf_putc(&p->m, ' ');
    say_with(p, key, textbuf_text(&figure), unit, NULL);
    textbuf_clear(&text);
    textbuf_clear(&figure);
}

static void say_time(struct page *p, const char *key, int64_t ms) {
    struct textbuf text = {0};
    struct textbuf figure = {0};
    duration_write_words(&text, ms);
    words_figure(&figure, p->lang, textbuf_text(&text));
    textbuf_putc(&p->m, ' ');
    say_with(p, key, textbuf_text(&figure), NULL, NULL);
    textbuf_clear(&text);
    textbuf_clear(&figure);
}

/* The sentence on the kind of test. */
static void say_kind(struct page *p, const struct item *item) {
    static const char *const methods[] = {"how-elapsed", "how-over-bogey", "how-behind-best"};
    static const char *const references[] = {"how-first", "how-mean", "how-nominated"};
    switch (item->kind) {
    case KIND_REGULARITY:
        say_count(p,
                  checks_and_pads_of(item)->from_previous ? "how-regularity-previous"
                                                          : "how-regularity",
                  checks_and_pads_of(item)->count, NULL);
        break;
    case KIND_SET_TIME:
        say_count(p,
                  checks_and_pads_of(item)->from_previous ? "how-set-time" : "how-set-time-start",
                  checks_and_pads_of(item)->count, NULL);
        break;
    case KIND_SPECIAL_TEST:
        say(p, special_test_of(item)->method == METHOD_BEHIND_BEST &&
                       special_test_of(item)->scope_class
                   ? "how-behind-class"
                   : methods[special_test_of(item)->method]);
        if (special_test_of(item)->bogey != TIME_NONE)
            say_time(p, "how-bogey", special_test_of(item)->bogey);
        if (special_test_of(item)->maximum != TIME_NONE)
            say_time(p, "how-maximum", special_test_of(item)->maximum);
        break;
    default:
        say_count(p, references[consistency_of(item)->reference], consistency_of(item)->laps, NULL);
        break;
    }
}

/* What one side of a deviation costs. */
static void say_side(struct page *p, const struct penalty_rule *rule, enum side side,
                     const char *key, const char *fails_key, const char *per) {
    if (rule->fails[side] == 0) {
        say_amount(p, key, rule->rate[side], per);
        return;
    }
    textbuf_putc(&p->m, ' ');
    say_count(p, fails_key, rule->fails[side], NULL);
}

static void say_rates(struct page *p, const struct item *item) {
    const struct penalty_rule *rule = &item->rule;
    char unit[32];
    (void)snprintf(unit, sizeof unit, "unit-%s", unit_name(rule->per));
    const char *per = said(p, unit);
    if (item->kind == KIND_SPECIAL_TEST) {
        say_side(p, rule, SIDE_LATE, "how-rate", "how-rate-fails", per);
    } else if (rule->fails[SIDE_EARLY] == 0 && rule->fails[SIDE_LATE] == 0 &&
               rule->rate[SIDE_EARLY] == rule->rate[SIDE_LATE]) {
        say_amount(p, "how-both", rule->rate[SIDE_LATE], per);
    } else {
        say_side(p, rule, SIDE_EARLY, "how-early", "how-early-fails", per);
        say_side(p, rule, SIDE_LATE, "how-late", "how-late-fails", per);
    }
    if (rule->grace > 0)
        say_time(p, rule->grace_deducted ? "how-grace-deducted" : "how-grace", rule->grace);
}

static void say_limits(struct page *p, const struct item *item) {
    const struct penalty_rule *rule = &item->rule;
    bool special = item->kind == KIND_SPECIAL_TEST;
    if (rule->cap[SIDE_LATE] != CAP_NONE &&
        (special || rule->cap[SIDE_EARLY] == rule->cap[SIDE_LATE]))
        say_amount(p, special ? "how-cap-test" : "how-cap", rule->cap[SIDE_LATE], NULL);
    else if (rule->cap[SIDE_LATE] != CAP_NONE)
        say_amount(p, "how-cap-late", rule->cap[SIDE_LATE], NULL);
    if (!special && rule->cap[SIDE_EARLY] != CAP_NONE &&
        rule->cap[SIDE_EARLY] != rule->cap[SIDE_LATE])
        say_amount(p, "how-cap-early", rule->cap[SIDE_EARLY], NULL);
    if (!special && rule->late_limit != TIME_NONE)
        say_time(p, "how-late-limit", rule->late_limit);
    if (rule->missed_fails > 0) {
        textbuf_putc(&p->m, ' ');
        say_count(p, "how-missed-fails", rule->missed_fails, NULL);
    } else {
        say_amount(p, "how-missed", rule->missed, NULL);
    }
    if (item->test_cap != CAP_NONE)
        say_amount(p, "how-test-cap", item->test_cap, NULL);
}

static void say_faults(struct page *p, const struct item *item) {
    struct textbuf list = {0};
    for (int i = 0; i < item->fault_count; i++) {
        struct textbuf amount = {0};
        textbuf_puts(&list, i > 0 ? ", " : "");
        html_text(&list, item->faults[i].name);
        textbuf_putc(&list, ' ');
        if (item->faults[i].maximum)
            html_text(&list, said(p, "the-maximum"));
        else
            decimal_write_short(&amount, item->faults[i].penalty);
        words_figure(&list, p->lang, textbuf_text(&amount));
        textbuf_clear(&amount);
    }
    if (item->fault_count > 0) {
        textbuf_putc(&p->m, ' ');
        say_with(p, "how-faults", textbuf_text(&list), NULL, NULL);
    }
    textbuf_clear(&list);
}

static void write_how(struct page *p, const struct item *item) {
    textbuf_puts(&p->m, "<h2>");
    say(p, "how-scored");
    textbuf_puts(&p->m, "</h2>\n<p>");
    say_kind(p, item);
    say_rates(p, item);
    say_limits(p, item);
    say_faults(p, item);
    textbuf_puts(&p->m, "</p>\n");
}

static void axis_text(const struct page *p, struct textbuf *b, int64_t ms,
                      const struct item *item) {
    struct textbuf text = {0};
    if (item->kind != KIND_SPECIAL_TEST && ms > 0)
        textbuf_putc(b, '+');
    time_write(&text, ms, unit_decimals(item->rule.precision));
    words_figure(b, p->lang, textbuf_text(&text));
    textbuf_clear(&text);
}

static void write_spread(struct page *p, const struct field *f, int n, int64_t *values) {
    int count = 0;
    int marked = -1;
    int64_t low;
    int64_t high;
    struct textbuf low_text = {0};
    struct textbuf high_text = {0};
    for (int car = 0; car < f->cars; car++) {
        int64_t value = measure_of(f, car, n);
        if (value == TIME_NONE)
            continue;
        if (car == f->marked)
            marked = count;
        values[count++] = value;
    }
    if (count == 0)
        return;
    chart_range(values, count, &low, &high);
    axis_text(p, &low_text, low, f->item);
    axis_text(p, &high_text, high, f->item);
    const char *id = p->rules->scored[f->item->first_scored + n].id;
    textbuf_printf(&p->m, "<p class=\"strip\">%s", id);
    if (marked >= 0) {
        textbuf_puts(&p->m, " · ▼ ");
        put_plate(p, f->marked);
        textbuf_putc(&p->m, ' ');
        put_time(p, values[marked], f->item->rule.precision);
    }
    textbuf_puts(&p->m, "</p>\n");
    chart_spread(&p->m, said(p, "spread-name"), values, count, marked, textbuf_text(&low_text),
                 textbuf_text(&high_text));
    textbuf_clear(&low_text);
    textbuf_clear(&high_text);
}

static void write_spreads(struct page *p, const struct field *f) {
    int64_t *values = calloc((size_t)f->cars + 1, sizeof *values);
    if (values == NULL) {
        p->m.failed = true;
        return;
    }
    textbuf_puts(&p->m, "<figure>\n<figcaption>");
    say(p, f->item->kind == KIND_SPECIAL_TEST ? "spread-times" : "spread");
    textbuf_puts(&p->m, "</figcaption>\n");
    for (int n = 0; n < f->item->scored_count && n < SPREADS_MAX; n++)
        write_spread(p, f, n, values);
    textbuf_puts(&p->m, "</figure>\n");
    free(values);
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
    textbuf_puts(&p->m, clean > NAMED_MAX ? " …</dd></div>\n</dl>\n" : "</dd></div>\n</dl>\n");
}

static void write_era_leaders(struct page *p, const struct standings_group *g) {
    static const struct column_head heads[] = {{"era", false},  {"car", true},     {"crew", false},
                                               {"place", true}, {"penalty", true}, {NULL, false}};
    table_begin(p, "leaders", said(p, "era-leaders"), heads);
    for (int c = 0; c < rules_class_count(p->rules); c++) {
        for (int i = 0; i < g->placed_count; i++) {
            const struct standing *row = &g->placed[i];
            if (p->event->entries->list[row->car].class_index != c)
                continue;
            textbuf_puts(&p->m, "<tr><td>");
            put_class(p, row->car);
            textbuf_puts(&p->m, "</td>");
            cells_car(p, row->car);
            textbuf_printf(&p->m, "<td>%s%d</td>", row->equal ? "=" : "", row->position);
            cell_penalty(p, row->penalty);
            textbuf_puts(&p->m, "</tr>\n");
            break;
        }
    }
    table_end(p);
}

/* Every point's measure in one cell. */
static void write_measures(struct page *p, const struct field *f, int car) {
    textbuf_puts(&p->m, "<td>");
    for (int n = 0; n < f->item->scored_count; n++) {
        int64_t value = measure_of(f, car, n);
        textbuf_puts(&p->m, n > 0 ? " · " : "");
        if (value == TIME_NONE)
            say(p, state_word(working_of(f, car, n)->state));
        else
            axis_text(p, &p->m, value, f->item);
    }
    textbuf_puts(&p->m, "</td>");
}

static void write_rows(struct page *p, const struct field *f, const struct standings_group *g,
                       const struct standing *rows, int count, bool placed) {
    for (int i = 0; i < count; i++) {
        textbuf_printf(&p->m, "<tr id=\"n%d\"%s><td>", p->event->entries->list[rows[i].car].number,
                       rows[i].car == f->marked ? " class=\"mine\"" : "");
        if (placed)
            textbuf_printf(&p->m, "%s%d", rows[i].equal ? "=" : "", rows[i].position);
        textbuf_puts(&p->m, "</td>");
        cells_car(p, rows[i].car);
        cell_known(p, rows[i].penalty, standings_known(f->st, g, rows[i].car));
        if (placed)
            cell_gap(p, rows[i].behind_leader, true);
        else
            textbuf_puts(&p->m, "<td></td>");
        cell_number(p, rows[i].fails);
        write_measures(p, f, rows[i].car);
        textbuf_puts(&p->m, "</tr>\n");
    }
}

static void write_results(struct page *p, const struct field *f, const struct standings_group *g) {
    const struct column_head heads[] = {
        {"place", true},
        {"car", true},
        {"crew", false},
        {"penalty", true},
        {"to-leader", true},
        {"fails-head", true},
        {f->item->kind == KIND_SPECIAL_TEST ? "times" : "deviations", true},
        {NULL, false}};
    table_begin(p, "results", said(p, "results"), heads);
    write_rows(p, f, g, g->placed, g->placed_count, true);
    table_end(p);
    if (g->pending_count > 0) {
        table_begin(p, "results", said(p, "still-awaited"), heads);
        write_rows(p, f, g, g->pending, g->pending_count, false);
        table_end(p);
    }
    if (g->unplaced_count > 0) {
        table_begin(p, "results", said(p, "without-place"), heads);
        write_rows(p, f, g, g->unplaced, g->unplaced_count, false);
        table_end(p);
    }
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
    write_how(p, f->item);
    write_spreads(p, f);
    if (!page_is_copy(p))
        write_mark_form(p, f);
    write_era_leaders(p, g);
    write_results(p, f, g);
}

unsigned page_test(struct request *r, struct textbuf *b) {
    struct shown_scores s = {0};
    struct standings *st = NULL;
    struct field f = {.marked = -1};
    struct page p;
    char downloads[128];
    struct textbuf title = {0};
    int place = -1;
    unsigned status = request_test(r, &place);
    if (status != 0)
        return status;
    int err = request_scores(r, -1, &s);
    if (err == ERR_OK)
        err = request_standings(r, s.scores, BY_TEST, place, &st);
    page_begin(&p, r, err == ERR_OK ? s.view : r->results->view);
    const struct item *item = &p.rules->items[place];
    if (err == ERR_OK)
        err = field_fill(&f, s.scores, item);
    if (err == ERR_OK) {
        static const struct standings_group nobody = {0};
        const char *car = request_query(r, "car");
        f.st = st;
        if (car != NULL)
            f.marked = entries_find(p.event->entries, strtol(car, NULL, 10));
        write_test(&p, &f, st->group_count > 0 ? &st->groups[0] : &nobody);
        (void)snprintf(downloads, sizeof downloads, "tests/%s", item->id);
        textbuf_printf(&title, "%s %s", item->id, item->name);
        status = page_finish(&p, b,
                             &(struct page_frame){.title = textbuf_text(&title),
                                                  .here = "tests",
                                                  .downloads = downloads,
                                                  .csv = true});
    } else {
        status = page_give_up(&p);
    }
    textbuf_clear(&title);
    free(f.workings);
    return status;
}
