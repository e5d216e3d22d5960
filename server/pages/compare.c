/* SPDX-License-Identifier: MIT */
/* Head to head: two to six cars, test by test, and the gap between them along the event. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api/arguments.h"
#include "base/decimal.h"
#include "base/err.h"
#include "pages/chart.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "event/car_search.h"
#include "system/html.h"

enum { CARS_MAX = CHART_LINES, TELLING = 3, SUGGESTIONS = 12 };

/* What is compared. A step is a visible item, up to the last that is known of one of the cars; the
 * last step holds what belongs to no item: decisions, absence, rounding. Only up to the last item
 * that is known of each car is like compared with like: the gaps end there. */
struct comparison {
    const struct scores *s;
    int cars[CARS_MAX];
    int count;
    int *items; /* by step; -1 for the last one */
    int steps;
    int level;     /* so many steps have a gap */
    int64_t *cost; /* [car * steps + step], thousandths of the total as it stands */
    int64_t *gap;  /* [car * (level + 1) + step], behind the best of them after that step, and
                    * in all at the end */
};

static void comparison_clear(struct comparison *c) {
    free(c->items);
    free(c->cost);
    free(c->gap);
}

static bool is_compared(const struct comparison *c, int car) {
    for (int i = 0; i < c->count; i++) {
        if (c->cars[i] == car)
            return true;
    }
    return false;
}

/* The cars of a list such as "22,31", each once; what is no car is passed over. */
static void read_cars(struct comparison *c, const struct entries *entries, const char *list) {
    while (list != NULL && *list != '\0' && c->count < CARS_MAX) {
        char *end;
        long number = strtol(list, &end, 10);
        int car = entries_find(entries, number);
        if (end > list && car >= 0 && !is_compared(c, car))
            c->cars[c->count++] = car;
        list = end > list ? end : list + 1;
        list += strspn(list, ", ");
    }
}

/* What an item is in the total: after the drop, and with the coefficient. */
static int64_t cost_of(const struct scores *s, int car, int place) {
    const struct car_score *score = &s->cars[car];
    return (score->item_flags[place] & ITEM_DROPPED) != 0 ? 0 : score->item_value[place];
}

/* False where the item is still to come for the car. */
static bool is_known(const struct comparison *c, int i, int step) {
    return c->items[step] < 0 ||
           (c->s->cars[c->cars[i]].item_flags[c->items[step]] & ITEM_TO_COME) == 0;
}

/* How many of the steps there are up to the last that is known of a car. */
static int known_steps(const struct comparison *c, int i) {
    int steps = c->steps;
    while (steps > 0 && !is_known(c, i, steps - 1))
        steps--;
    return steps;
}

/* The steps: what some car has come to, and of it what all have. */
static void lay_out(struct comparison *c) {
    const struct rules *rules = c->s->event->rules;
    int longest = 0;
    for (int i = 0; i < rules->item_count; i++) {
        if (c->s->view->visible[i])
            c->items[c->steps++] = i;
    }
    c->level = c->steps;
    for (int i = 0; i < c->count; i++) {
        int known = known_steps(c, i);
        c->level = known < c->level ? known : c->level;
        longest = known > longest ? known : longest;
    }
    c->steps = longest;
    c->items[c->steps++] = -1;
}

/* Makes sums into distances from the smallest: one of each car, `stride` apart. */
static void subtract_best(int64_t *sums, int count, int stride) {
    int64_t best = INT64_MAX;
    for (int i = 0; i < count; i++)
        best = sums[(ptrdiff_t)i * stride] < best ? sums[(ptrdiff_t)i * stride] : best;
    for (int i = 0; i < count; i++)
        sums[(ptrdiff_t)i * stride] -= best;
}

static int fill(struct comparison *c) {
    size_t room = (size_t)c->s->event->rules->item_count + 1;
    c->items = calloc(room, sizeof *c->items);
    c->cost = calloc(room * CARS_MAX, sizeof *c->cost);
    c->gap = calloc(room * CARS_MAX, sizeof *c->gap);
    if (c->items == NULL || c->cost == NULL || c->gap == NULL)
        return ERR_NOMEM;
    lay_out(c);
    int rest = c->steps - 1;
    for (int i = 0; i < c->count; i++) {
        int64_t *cost = c->cost + (ptrdiff_t)i * c->steps;
        int64_t *gap = c->gap + (ptrdiff_t)i * (c->level + 1);
        int64_t sum = 0;
        int64_t total = cost[rest] = c->s->cars[c->cars[i]].tally[BASIS_CORRECTED].total;
        for (int step = 0; step < rest; step++) {
            cost[step] = cost_of(c->s, c->cars[i], c->items[step]);
            cost[rest] -= cost[step];
            if (step < c->level)
                gap[step] = sum += cost[step];
        }
        gap[c->level] = total;
    }
    for (int step = 0; step <= c->level; step++)
        subtract_best(c->gap + step, c->count, c->level + 1);
    return ERR_OK;
}

/* "22,31" with one car added or left out, for links. */
static void write_list(struct textbuf *b, const struct comparison *c, int without, int with) {
    const char *sep = "";
    for (int i = 0; i < c->count; i++) {
        if (c->cars[i] == without)
            continue;
        textbuf_printf(b, "%s%d", sep, c->s->event->entries->list[c->cars[i]].number);
        sep = ",";
    }
    if (with >= 0)
        textbuf_printf(b, "%s%d", sep, c->s->event->entries->list[with].number);
}

static void write_form(struct page *p, const struct comparison *c) {
    struct textbuf list = {0};
    write_list(&list, c, -1, -1);
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
                   textbuf_text(&list));
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
    textbuf_clear(&list);
}

/* The cars that fit what was typed, each a link that adds it. */
static void write_suggestions(struct page *p, const struct comparison *c, const char *typed) {
    int shown = 0;
    textbuf_puts(&p->m, "<p>");
    say(p, "compare-which");
    textbuf_puts(&p->m, "</p>\n<ul>\n");
    for (int car = 0; car < p->event->entries->count && shown < SUGGESTIONS; car++) {
        if (!car_search_fits(&p->event->entries->list[car], typed) || is_compared(c, car))
            continue;
        struct textbuf list = {0};
        shown++;
        write_list(&list, c, -1, car);
        textbuf_puts(&p->m, "<li>");
        put_plate(p, car);
        textbuf_puts(&p->m, " <a ");
        page_href(p, "compare?cars=%s", textbuf_text(&list));
        textbuf_puts(&p->m, ">");
        put_crew(p, car);
        textbuf_puts(&p->m, "</a>, ");
        put_vehicle(p, car);
        textbuf_puts(&p->m, "</li>\n");
        textbuf_clear(&list);
    }
    if (shown == 0) {
        textbuf_puts(&p->m, "<li>");
        say(p, "none-fits");
        textbuf_puts(&p->m, "</li>\n");
    }
    textbuf_puts(&p->m, "</ul>\n");
}

/* One car fits alone: it is added at once. */
static bool add_typed(struct comparison *c, const struct entries *entries, const char *typed) {
    int found = -1;
    int count = 0;
    for (int car = 0; car < entries->count; car++) {
        if (car_search_fits(&entries->list[car], typed)) {
            found = car;
            count++;
        }
    }
    if (count != 1 || c->count == CARS_MAX)
        return false;
    if (!is_compared(c, found))
        c->cars[c->count++] = found;
    return true;
}

static void cell_remove(struct page *p, const struct comparison *c, int i) {
    struct textbuf list = {0};
    char number[16];
    write_list(&list, c, c->cars[i], -1);
    textbuf_puts(&p->m, "<td><a ");
    page_href(p, "compare?cars=%s", textbuf_text(&list));
    textbuf_puts(&p->m, ">");
    (void)snprintf(number, sizeof number, "%d", p->event->entries->list[c->cars[i]].number);
    say_with(p, "remove", number, NULL, NULL);
    textbuf_puts(&p->m, "</a></td>");
    textbuf_clear(&list);
}

/* Fails go before penalty. */
static int best_of(const struct comparison *c) {
    int best = 0;
    for (int i = 1; i < c->count; i++) {
        const struct tally *one = &c->s->cars[c->cars[i]].tally[BASIS_CORRECTED];
        const struct tally *other = &c->s->cars[c->cars[best]].tally[BASIS_CORRECTED];
        if (one->fails < other->fails || (one->fails == other->fails && one->total < other->total))
            best = i;
    }
    return best;
}

static struct gap gap_to(const struct comparison *c, int i, int best) {
    const struct tally *one = &c->s->cars[c->cars[i]].tally[BASIS_CORRECTED];
    const struct tally *other = &c->s->cars[c->cars[best]].tally[BASIS_CORRECTED];
    return (struct gap){one->fails - other->fails, one->total - other->total};
}

static void write_cars(struct page *p, const struct comparison *c) {
    const struct column_head heads[] = {
        {"car", true},     {"crew", false},   {"overall", true},
        {"penalty", true}, {"to-best", true}, {page_is_copy(p) ? NULL : "remove-head", false},
        {NULL, false}};
    table_begin(p, "versus", said(p, "compare-how"), heads);
    for (int i = 0; i < c->count; i++) {
        const struct car_score *score = &c->s->cars[c->cars[i]];
        textbuf_puts(&p->m, "<tr>");
        cells_car(p, c->cars[i]);
        textbuf_puts(&p->m, "<td>");
        if (score->position > 0)
            textbuf_printf(&p->m, "%s%d", score->equal ? "=" : "", score->position);
        else
            say(p, status_word(score->status));
        textbuf_puts(&p->m, "</td>");
        cell_penalty(p, score->tally[BASIS_CORRECTED].total);
        cell_gap(p, gap_to(c, i, best_of(c)), true);
        if (!page_is_copy(p))
            cell_remove(p, c, i);
        textbuf_puts(&p->m, "</tr>\n");
    }
    table_end(p);
}

/* Where two cars' costs differ most, the greatest difference first: tests, controls, and what
 * belongs to no item. */
static int telling_steps(const struct comparison *c, int one, int other, int *out) {
    int count = 0;
    for (int step = 0; step < c->steps; step++) {
        int64_t d = llabs(c->cost[one * c->steps + step] - c->cost[other * c->steps + step]);
        if (d == 0 || !is_known(c, one, step) || !is_known(c, other, step))
            continue;
        int at = count < TELLING ? count++ : TELLING;
        for (; at > 0; at--) {
            int64_t above = llabs(c->cost[one * c->steps + out[at - 1]] -
                                  c->cost[other * c->steps + out[at - 1]]);
            if (above >= d)
                break;
            if (at < TELLING)
                out[at] = out[at - 1];
        }
        if (at < TELLING)
            out[at] = step;
    }
    return count;
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
    (void)snprintf(ours, sizeof ours, "%d", p->event->entries->list[c->cars[best]].number);
    (void)snprintf(theirs, sizeof theirs, "%d", p->event->entries->list[c->cars[other]].number);
    say_with(p, "ahead-by", ours, theirs, gap);
}

/* "22 is 12.300 ahead of 31. What made the difference: R4 (+8.000), S1 (−3.000)." */
static void write_sentence(struct page *p, const struct comparison *c, int best, int other) {
    int steps[TELLING + 1];
    struct gap behind = gap_to(c, other, best);
    struct textbuf gap = {0};
    struct textbuf told = {0};
    int count = behind.fails == 0 ? telling_steps(c, other, best, steps) : 0;
    if (behind.fails == 0)
        words_decimal(&gap, p->lang, behind.penalty);
    else
        words_fails(&gap, p, behind.fails);
    for (int i = 0; i < count; i++) {
        int64_t d = c->cost[other * c->steps + steps[i]] - c->cost[best * c->steps + steps[i]];
        int item = c->items[steps[i]];
        textbuf_printf(&told, "%s<strong>%s</strong> (%s", i > 0 ? ", " : "",
                       item < 0 ? said(p, "rest") : p->rules->items[item].id, d > 0 ? "+" : "−");
        words_decimal(&told, p->lang, llabs(d));
        textbuf_puts(&told, ")");
    }
    textbuf_puts(&p->m, "<li>");
    say_ahead(p, c, best, other, textbuf_text(&gap));
    if (count > 0) {
        textbuf_putc(&p->m, ' ');
        say_with(p, "made-difference", textbuf_text(&told), NULL, NULL);
    }
    textbuf_puts(&p->m, "</li>\n");
    textbuf_clear(&gap);
    textbuf_clear(&told);
}

/* The total without the items that not all cars have come to. */
static int64_t level_total(const struct comparison *c, int i) {
    int64_t total = c->s->cars[c->cars[i]].tally[BASIS_CORRECTED].total;
    for (int step = c->level; step < c->steps - 1; step++)
        total -= c->cost[i * c->steps + step];
    return total;
}

/* True where one of them has been charged for what others have not come to. False where a car is
 * out, which comes to nothing more, or where fails part them. */
static bool are_far_apart(const struct comparison *c) {
    bool charged = false;
    for (int i = 0; i < c->count; i++) {
        const struct car_score *score = &c->s->cars[c->cars[i]];
        if (score->position == 0 || gap_to(c, i, 0).fails != 0)
            return false;
        charged = charged || level_total(c, i) != score->tally[BASIS_CORRECTED].total;
    }
    return charged && c->level > 0;
}

/* The totals of cars that have not come equally far are not alike: who is ahead without what the
 * others have not come to, as the standings after that item tell. */
static void write_level(struct page *p, const struct comparison *c) {
    if (!are_far_apart(c))
        return;
    int best = 0;
    for (int i = 1; i < c->count; i++)
        best = level_total(c, i) < level_total(c, best) ? i : best;
    textbuf_puts(&p->m, "<p>");
    say_with(p, "not-level", p->rules->items[c->items[c->level - 1]].id, NULL, NULL);
    for (int i = 0; i < c->count; i++) {
        if (i == best)
            continue;
        struct textbuf gap = {0};
        words_decimal(&gap, p->lang, level_total(c, i) - level_total(c, best));
        textbuf_putc(&p->m, ' ');
        say_ahead(p, c, best, i, textbuf_text(&gap));
        textbuf_clear(&gap);
    }
    textbuf_puts(&p->m, "</p>\n");
}

static void write_sentences(struct page *p, const struct comparison *c) {
    int best = best_of(c);
    textbuf_puts(&p->m, "<ul class=\"sentences\">\n");
    for (int i = 0; i < c->count; i++) {
        if (i != best)
            write_sentence(p, c, best, i);
    }
    textbuf_puts(&p->m, "</ul>\n");
    write_level(p, c);
}

/* Where not all cars have come equally far, the lines end before what is in the totals alone. */
static void write_lines(struct page *p, const struct comparison *c) {
    int count = c->level == c->steps - 1 ? c->steps : c->level;
    if (count < 2)
        return;
    struct chart_line lines[CARS_MAX];
    struct chart_mark marks[DAYS_MAX];
    char labels[DAYS_MAX][16];
    int mark_count = 0;
    int day = -1;
    for (int i = 0; i < c->count; i++)
        lines[i] = (struct chart_line){p->event->entries->list[c->cars[i]].number,
                                       c->gap + (ptrdiff_t)i * (c->level + 1)};
    for (int step = 0; step < c->level; step++) {
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
    chart_lines(&p->m, said(p, "gap-name"), lines, c->count, count, marks, mark_count);
    textbuf_puts(&p->m, "</figure>\n");
}

/* Heads of the cars' columns are plates, so this table is written by hand. */
static void write_twin_head(struct page *p, const struct comparison *c) {
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

/* What a step cost a car, and how far that left it behind; a dash while it is to come. */
static void cell_cost(struct page *p, const struct comparison *c, int i, int step, bool is_least) {
    bool has_gap = step < c->level || step == c->steps - 1;
    int at = step < c->level ? step : c->level;
    textbuf_puts(&p->m, "<td>");
    if (!is_known(c, i, step)) {
        textbuf_puts(&p->m, "–</td>");
        return;
    }
    textbuf_puts(&p->m, is_least ? "<strong>" : "");
    put_penalty(p, c->cost[i * c->steps + step]);
    textbuf_puts(&p->m, is_least ? "</strong>" : "");
    if (has_gap) {
        textbuf_puts(&p->m, "<small>+");
        put_penalty(p, c->gap[i * (c->level + 1) + at]);
        textbuf_puts(&p->m, "</small>");
    }
    textbuf_puts(&p->m, "</td>");
}

static void write_twin(struct page *p, const struct comparison *c) {
    write_twin_head(p, c);
    for (int step = 0; step < c->steps; step++) {
        int64_t low = INT64_MAX;
        int64_t high = INT64_MIN;
        int known = 0;
        for (int i = 0; i < c->count; i++) {
            int64_t cost = c->cost[i * c->steps + step];
            if (!is_known(c, i, step))
                continue;
            known++;
            low = cost < low ? cost : low;
            high = cost > high ? cost : high;
        }
        bool is_test = c->items[step] >= 0 && p->rules->items[c->items[step]].test >= 0;
        bool alike = low >= high && (known == c->count || high == 0);
        if (alike && !is_test)
            continue;
        textbuf_puts(&p->m, "<tr><th scope=\"row\">");
        if (c->items[step] >= 0)
            put_item(p, &p->rules->items[c->items[step]], true);
        else
            say(p, "rest");
        textbuf_puts(&p->m, "</th>");
        for (int i = 0; i < c->count; i++)
            cell_cost(p, c, i, step, low < high && c->cost[i * c->steps + step] == low);
        textbuf_puts(&p->m, "</tr>\n");
    }
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
    write_twin(p, c);
}

unsigned page_compare(struct request *r, struct textbuf *b) {
    struct shown_scores s = {0};
    struct comparison c = {0};
    struct page p;
    const char *add = request_query(r, "add");
    int err = request_scores(r, -1, &s);
    page_begin(&p, r, err == ERR_OK ? s.view : r->results->view);
    if (err == ERR_OK) {
        c.s = s.scores;
        read_cars(&c, p.event->entries, request_query(r, "cars"));
        bool open = add != NULL && !add_typed(&c, p.event->entries, add);
        err = fill(&c);
        textbuf_puts(&p.m, "<h1>");
        say(&p, "compare");
        textbuf_puts(&p.m, "</h1>\n");
        page_state(&p);
        if (!page_is_copy(&p))
            write_form(&p, &c);
        if (open)
            write_suggestions(&p, &c, add);
    }
    unsigned status;
    if (err == ERR_OK) {
        write_comparison(&p, &c);
        status = page_finish(&p, b,
                             &(struct page_frame){.title = said(&p, "compare"), .here = "compare"});
    } else {
        status = page_give_up(&p);
    }
    comparison_clear(&c);
    return status;
}
