/* SPDX-License-Identifier: MIT */
/* Head to head: two to six cars, test by test, and the gap between them along the event. */
#include <stdio.h>
#include <stdlib.h>

#include "api/arguments.h"
#include "base/err.h"
#include "event/car_search.h"
#include "pages/chart.h"
#include "pages/comparison.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"

enum { SUGGESTIONS = 12 };

static int number_of(const struct comparison *c, int i) {
    return c->s->event->entries->list[c->cars[i]].number;
}

/* "22,31" with a car of the entry list left out or added, for links; -1 for none. */
static const char *list_of(const struct page *p, const struct comparison *c, int without,
                           int with) {
    struct textbuf *b = request_text(p->r);
    for (int i = 0; i < c->count; i++) {
        if (c->cars[i] != without)
            textbuf_printf(b, "%s%d", b->len > 0 ? "," : "", number_of(c, i));
    }
    if (with >= 0)
        textbuf_printf(b, "%s%d", b->len > 0 ? "," : "", c->s->event->entries->list[with].number);
    return textbuf_text(b);
}

static void write_form(struct page *p, const struct comparison *c) {
    textbuf_printf(&p->m, "<form action=\"/%s/compare\" method=\"get\" class=\"find\">",
                   p->rules->slug);
    if (request_names_language(p->r))
        textbuf_printf(&p->m, "<input type=\"hidden\" name=\"lang\" value=\"%s\">",
                       lang_code(p->lang));
    textbuf_puts(&p->m, "<label>");
    say(p, "compare-cars");
    textbuf_printf(&p->m,
                   " <input type=\"text\" name=\"cars\" id=\"cars\" maxlength=\"40\" "
                   "value=\"%s\"></label> <label>",
                   list_of(p, c, -1, -1));
    say(p, "compare-add");
    textbuf_puts(
        &p->m,
        " <input type=\"text\" name=\"add\" maxlength=\"40\"></label> <button type=\"submit\">");
    say(p, "show");
    textbuf_puts(&p->m, "</button> <a id=\"rivals\" hidden ");
    page_href(p, "compare");
    textbuf_putc(&p->m, '>');
    say(p, "compare-pinned");
    textbuf_puts(&p->m, "</a></form>\n");
}

/* The cars that fit what was typed, each a link that adds it. */
static void write_suggestions(struct page *p, const struct comparison *c, const char *typed) {
    int shown = 0;
    textbuf_puts(&p->m, "<p>");
    say(p, "compare-which");
    textbuf_puts(&p->m, "</p>\n<ul>\n");
    for (int car = 0; car < p->event->entries->count && shown < SUGGESTIONS; car++) {
        if (!car_search_fits(&p->event->entries->list[car], typed) || comparison_has(c, car))
            continue;
        shown++;
        textbuf_puts(&p->m, "<li>");
        put_plate(p, car);
        textbuf_puts(&p->m, " <a ");
        page_href(p, "compare?cars=%s", list_of(p, c, -1, car));
        textbuf_puts(&p->m, ">");
        put_crew(p, car);
        textbuf_puts(&p->m, "</a>, ");
        put_vehicle(p, car);
        textbuf_puts(&p->m, "</li>\n");
    }
    if (shown == 0) {
        textbuf_puts(&p->m, "<li>");
        say(p, "none-fits");
        textbuf_puts(&p->m, "</li>\n");
    }
    textbuf_puts(&p->m, "</ul>\n");
}

/* What a row of a car is of, besides the car. */
struct compared {
    const struct comparison *c;
    int i; /* among the compared */
};

static const struct compared *compared(const struct table_row *row) {
    return row->of;
}

/* A place, or why there is none. */
static void write_place(struct page *p, const struct table_row *row) {
    const struct car_score *score = &compared(row)->c->s->cars[row->car];
    if (score->position > 0) {
        cell_place(p, score->position, score->equal);
        return;
    }
    textbuf_puts(&p->m, "<td>");
    say(p, status_word(score->status));
    textbuf_puts(&p->m, "</td>");
}

/* "12.000", "12.000, 1 fail" */
static void put_cost(struct page *p, int64_t penalty, int fails) {
    put_penalty(p, penalty);
    if (fails == 0)
        return;
    textbuf_puts(&p->m, ", ");
    say_count(p, "fails", fails, NULL);
}

static void write_penalty(struct page *p, const struct table_row *row) {
    const struct tally *tally = &compared(row)->c->s->cars[row->car].tally[BASIS_CORRECTED];
    textbuf_puts(&p->m, "<td>");
    put_cost(p, tally->total, tally->fails);
    textbuf_puts(&p->m, "</td>");
}

static void write_to_best(struct page *p, const struct table_row *row) {
    const struct comparison *c = compared(row)->c;
    cell_gap(p, comparison_behind(c, compared(row)->i, comparison_best(c)), true);
}

static void write_remove(struct page *p, const struct table_row *row) {
    char number[16];
    textbuf_puts(&p->m, "<td><a ");
    page_href(p, "compare?cars=%s", list_of(p, compared(row)->c, row->car, -1));
    textbuf_puts(&p->m, ">");
    (void)snprintf(number, sizeof number, "%d", p->event->entries->list[row->car].number);
    say_with(p, "remove", number, NULL, NULL);
    textbuf_puts(&p->m, "</a></td>");
}

static void write_cars(struct page *p, const struct comparison *c) {
    const struct table_cell cells[] = {{"car", .write = cell_plate},
                                       {"crew", .write = cell_crew},
                                       {"place", .write = write_place},
                                       {"penalty", .write = write_penalty},
                                       {"to-best", .write = write_to_best},
                                       {"remove", .write = page_is_copy(p) ? NULL : write_remove},
                                       {.key = NULL}};
    struct table t;
    table_begin(&t, p, "versus", "versus", caption_text(said(p, "compare-how")), cells);
    for (int i = 0; i < c->count; i++) {
        textbuf_puts(&p->m, "<tr>");
        table_cells(&t, c->cars[i], &(struct compared){c, i});
    }
    table_end(p);
}

static void words_fails(struct textbuf *b, const struct page *p, int fails) {
    char number[16];
    (void)snprintf(number, sizeof number, "%d", fails);
    const char *args[] = {number};
    words_put(b, word_for(p->lang, "fails", fails), args, 1);
}

/* "Car 22 is 12.300 ahead of car 31." */
static void say_ahead(struct page *p, const struct comparison *c, int best, int other,
                      const char *gap) {
    char ours[16];
    char theirs[16];
    (void)snprintf(ours, sizeof ours, "%d", number_of(c, best));
    (void)snprintf(theirs, sizeof theirs, "%d", number_of(c, other));
    say_with(p, "ahead-by", ours, theirs, gap);
}

/* The word for what belongs to no item. */
static const char *rest_key(const struct page *p) {
    return p->rules->scoring.day_cap == CAP_NONE ? "rest" : "rest-day-cap";
}

/* "R4 (+8.000), S1 (−3.000)", "R1 (+1 fail)": where one car lost to another, and won back. */
static void list_differences(const struct page *p, const struct comparison *c, int best, int other,
                             struct textbuf *b) {
    int steps[COMPARISON_TELLING];
    int count = comparison_telling(c, other, best, steps);
    bool by_fails = comparison_behind(c, other, best).fails != 0;
    for (int i = 0; i < count; i++) {
        int fails = comparison_fails(c, other, steps[i]) - comparison_fails(c, best, steps[i]);
        int64_t d = comparison_cost(c, other, steps[i]) - comparison_cost(c, best, steps[i]);
        int item = c->items[steps[i]];
        textbuf_printf(b, "%s<strong>%s</strong> (%s", i > 0 ? ", " : "",
                       item < 0 ? said(p, rest_key(p)) : p->rules->items[item].id,
                       (by_fails ? fails : d) > 0 ? "+" : "−");
        if (by_fails)
            words_fails(b, p, abs(fails));
        else
            words_penalty(b, p, llabs(d));
        textbuf_puts(b, ")");
    }
}

/* "Car 22 is 12.300 ahead of car 31. What made the difference: R4 (+8.000), S1 (−3.000)." */
static void write_sentence(struct page *p, const struct comparison *c, int best, int other) {
    struct gap behind = comparison_behind(c, other, best);
    struct textbuf *gap = request_text(p->r);
    struct textbuf *told = request_text(p->r);
    if (behind.fails == 0) {
        words_penalty(gap, p, behind.penalty);
    } else {
        words_fails(gap, p, behind.fails);
    }
    list_differences(p, c, best, other, told);
    textbuf_puts(&p->m, "<li>");
    say_ahead(p, c, best, other, textbuf_text(gap));
    if (told->len > 0) {
        textbuf_putc(&p->m, ' ');
        say_with(p, "made-difference", textbuf_text(told), NULL, NULL);
    }
    textbuf_puts(&p->m, "</li>\n");
    p->m.failed = p->m.failed || gap->failed || told->failed;
}

/* Who is ahead without what the others have not come to, as the standings after that item tell. */
static void write_level(struct page *p, const struct comparison *c) {
    if (!comparison_is_uneven(c))
        return;
    int best = 0;
    for (int i = 1; i < c->count; i++)
        best = comparison_level_total(c, i) < comparison_level_total(c, best) ? i : best;
    textbuf_puts(&p->m, "<p>");
    say_with(p, "not-level", p->rules->items[c->items[c->level - 1]].id, NULL, NULL);
    struct textbuf *gap = request_text(p->r);
    for (int i = 0; i < c->count; i++) {
        if (i == best)
            continue;
        textbuf_reset(gap);
        words_penalty(gap, p, comparison_level_total(c, i) - comparison_level_total(c, best));
        textbuf_putc(&p->m, ' ');
        say_ahead(p, c, best, i, textbuf_text(gap));
    }
    textbuf_puts(&p->m, "</p>\n");
    p->m.failed = p->m.failed || gap->failed;
}

static void write_sentences(struct page *p, const struct comparison *c) {
    int best = comparison_best(c);
    textbuf_puts(&p->m, "<ul class=\"sentences\">\n");
    for (int i = 0; i < c->count; i++) {
        if (i != best)
            write_sentence(p, c, best, i);
    }
    textbuf_puts(&p->m, "</ul>\n");
    write_level(p, c);
}

/* Where not all cars have come equally far, the lines end before what is in the totals alone; and
 * where fails part them, as there is no gap in penalty behind that. */
static void write_lines(struct page *p, const struct comparison *c) {
    int most = c->level == c->steps - 1 ? c->steps : c->level;
    int count = 0;
    while (count < most && comparison_has_gap(c, count))
        count++;
    if (count < 2)
        return;
    struct chart_line lines[COMPARISON_CARS_MAX];
    struct chart_mark marks[DAYS_MAX];
    char labels[DAYS_MAX][16];
    int mark_count = 0;
    int day = -1;
    for (int i = 0; i < c->count; i++)
        lines[i] = (struct chart_line){number_of(c, i), c->gap + (ptrdiff_t)i * (c->level + 1)};
    for (int step = 0; step < c->level && step < count; step++) {
        int item_day = p->rules->items[c->items[step]].day;
        if (item_day != day && mark_count < DAYS_MAX) {
            day = item_day;
            (void)snprintf(labels[mark_count], sizeof labels[0], "%s",
                           p->rules->days[day].date + 5);
            marks[mark_count] = (struct chart_mark){step, labels[mark_count]};
            mark_count++;
        }
    }
    textbuf_puts(&p->m, "<figure>\n<figcaption>");
    say(p, "gap-picture");
    textbuf_puts(&p->m, "</figcaption>\n");
    chart_lines(&p->m, said(p, "gap-name"), lines, c->count, count, marks, mark_count,
                p->rules->scoring.shown_as_time);
    textbuf_puts(&p->m, "</figure>\n");
}

/* One column of its own, and behind it one for each car, under its plate. */
static void begin_gaps(struct page *p, const struct comparison *c) {
    textbuf_puts(&p->m, "<div class=\"scroll\"><table class=\"gaps\">\n<caption>");
    say(p, "gap-table");
    textbuf_puts(&p->m, "</caption>\n<thead><tr><th scope=\"col\">");
    say(p, "point");
    textbuf_puts(&p->m, "</th>");
    for (int i = 0; i < c->count; i++) {
        textbuf_puts(&p->m, "<th scope=\"col\" class=\"n\">");
        put_plate(p, c->cars[i]);
        textbuf_puts(&p->m, "</th>");
    }
    textbuf_puts(&p->m, "</tr></thead>\n<tbody>\n");
}

/* What a step cost a car, and how far that left it behind; a dash while it is to come or where it
 * is off its route. */
static void cell_cost(struct page *p, const struct comparison *c, int i, int step, bool is_least) {
    textbuf_puts(&p->m, "<td>");
    if (!comparison_is_known(c, i, step)) {
        textbuf_puts(&p->m, "–");
        if (comparison_is_off(c, i, step)) {
            textbuf_puts(&p->m, "<small>");
            say(p, "off-route");
            textbuf_puts(&p->m, "</small>");
        }
        textbuf_puts(&p->m, "</td>");
        return;
    }
    textbuf_puts(&p->m, is_least ? "<strong>" : "");
    put_cost(p, comparison_cost(c, i, step), comparison_fails(c, i, step));
    textbuf_puts(&p->m, is_least ? "</strong>" : "");
    if (comparison_has_gap(c, step)) {
        textbuf_puts(&p->m, "<small>+");
        put_penalty(p, comparison_gap(c, i, step));
        textbuf_puts(&p->m, "</small>");
    }
    textbuf_puts(&p->m, "</td>");
}

/* How a step was for those of whom it is known. */
struct step_range {
    int least; /* whom it cost least, -1 */
    int most;
    int known;
};

/* Negative where a step cost a car less than another: fails go before penalty. */
static int64_t costlier(const struct comparison *c, int i, int other, int step) {
    int fails = comparison_fails(c, i, step) - comparison_fails(c, other, step);
    return fails != 0 ? fails : comparison_cost(c, i, step) - comparison_cost(c, other, step);
}

static struct step_range range_of(const struct comparison *c, int step) {
    struct step_range range = {-1, -1, 0};
    for (int i = 0; i < c->count; i++) {
        if (!comparison_is_known(c, i, step))
            continue;
        range.known++;
        if (range.least < 0 || costlier(c, i, range.least, step) < 0)
            range.least = i;
        if (range.most < 0 || costlier(c, i, range.most, step) > 0)
            range.most = i;
    }
    return range;
}

/* What is no test is told only where it made a difference. */
static void write_step(struct page *p, const struct comparison *c, int step) {
    const struct item *item = c->items[step] >= 0 ? &p->rules->items[c->items[step]] : NULL;
    struct step_range range = range_of(c, step);
    bool differ = range.known > 0 && costlier(c, range.least, range.most, step) != 0;
    bool free = range.known > 0 && comparison_cost(c, range.most, step) == 0 &&
                comparison_fails(c, range.most, step) == 0;
    if (!differ && (range.known == c->count || free) && (item == NULL || item->test < 0))
        return;
    textbuf_puts(&p->m, "<tr><th scope=\"row\">");
    if (item != NULL)
        put_item(p, item, true);
    else
        say(p, rest_key(p));
    textbuf_puts(&p->m, "</th>");
    for (int i = 0; i < c->count; i++)
        cell_cost(p, c, i, step, differ && costlier(c, i, range.least, step) == 0);
    textbuf_puts(&p->m, "</tr>\n");
}

static void write_gaps(struct page *p, const struct comparison *c) {
    begin_gaps(p, c);
    for (int step = 0; step < c->steps; step++)
        write_step(p, c, step);
    table_end(p);
}

/* A copy has a page for two cars that stand next to each other; who wants others asks a server. */
static void write_neighbours(struct page *p, const struct scores *s) {
    textbuf_puts(&p->m, "<p>");
    say(p, "compare-copy");
    textbuf_puts(&p->m, "</p>\n<ul>\n");
    for (int i = 1; i < s->placed; i++) {
        textbuf_puts(&p->m, "<li><a ");
        page_href(p, "compare?cars=%d,%d", p->event->entries->list[s->order[i - 1]].number,
                  p->event->entries->list[s->order[i]].number);
        textbuf_putc(&p->m, '>');
        put_plate(p, s->order[i - 1]);
        textbuf_putc(&p->m, ' ');
        put_crew(p, s->order[i - 1]);
        textbuf_puts(&p->m, " – ");
        put_plate(p, s->order[i]);
        textbuf_putc(&p->m, ' ');
        put_crew(p, s->order[i]);
        textbuf_puts(&p->m, "</a></li>\n");
    }
    textbuf_puts(&p->m, "</ul>\n");
}

static void write_comparison(struct page *p, const struct comparison *c) {
    if (c->count == 0 && page_is_copy(p)) {
        write_neighbours(p, c->s);
        return;
    }
    if (c->count == 0) {
        textbuf_puts(&p->m, "<p>");
        say(p, "compare-none");
        textbuf_puts(&p->m, "</p>\n");
        return;
    }
    if (c->count > 1)
        write_sentences(p, c);
    write_cars(p, c);
    if (c->count == 1) {
        textbuf_puts(&p->m, "<p>");
        say(p, "compare-one");
        textbuf_puts(&p->m, "</p>\n");
        return;
    }
    write_lines(p, c);
    write_gaps(p, c);
}

unsigned page_compare(struct request *r, struct textbuf *b) {
    struct shown_scores s = {0};
    struct comparison c = {0};
    struct page p;
    const char *add = request_query(r, "add");
    int err = request_scores(r, -1, &s);
    page_begin(&p, r, err == ERR_OK ? s.view : r->results->view);
    if (err != ERR_OK)
        return page_give_up(&p);
    c.s = s.scores;
    comparison_read(&c, request_query(r, "cars"));
    bool open = add != NULL && !comparison_add(&c, add);
    if (comparison_fill(&c, r) != ERR_OK)
        return page_give_up(&p);
    textbuf_puts(&p.m, "<h1>");
    say(&p, "compare");
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    if (!page_is_copy(&p))
        write_form(&p, &c);
    if (open)
        write_suggestions(&p, &c, add);
    write_comparison(&p, &c);
    return page_finish(&p, b,
                       &(struct page_frame){.title = said(&p, "compare"), .here = "compare"});
}
