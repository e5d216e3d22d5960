/* SPDX-License-Identifier: MIT */
/* The tables and the picture of a card: what each test and each point cost, and why; how the total
 * came about. */
#include "base/err.h"
#include "event/car_route.h"
#include "output/decision_row.h"
#include "output/output.h"
#include "pages/card.h"
#include "pages/chart.h"
#include "pages/page.h"
#include "pages/table.h"
#include "scoring/explain.h"
#include "scoring/totals.h"
#include "system/html.h"

/* ---- tests ---- */

/* What one test cost: what was early against all else. */
struct share {
    int64_t early;
    int64_t other;
};

static struct share share_of(const struct score_sheet *sheet, const struct item *item,
                             int64_t total) {
    struct share share = {0, 0};
    for (int n = 0; n < item->scored_count; n++) {
        const struct scored_point *w = &sheet->scored[item->first_scored + n];
        if (w->deviation != TIME_NONE && w->deviation < 0)
            share.early += w->penalty;
    }
    /* Held to the test's own cap, which is not shared out between points. */
    if (share.early > total)
        share.early = total > 0 ? total : 0;
    share.other = total - share.early;
    return share;
}

static bool is_dropped(const struct card *card, int item) {
    return (card->s->cars[card->car].item_flags[item] & ITEM_DROPPED) != 0;
}

static bool is_to_come(const struct card *card, int item) {
    return (card->s->cars[card->car].item_flags[item] & ITEM_TO_COME) != 0;
}

static int fails_at(const struct card *card, int item) {
    return card->s->cars[card->car].item_fails[item];
}

/* "2 fails", NULL for none. */
static const char *fails_text(struct page *p, int fails) {
    if (fails == 0)
        return NULL;
    struct textbuf *text = request_text(p->r);
    const char *number = page_text(p, "%d", fails);
    words_put(text, word_for(p->lang, "fails", fails), &number, 1);
    return textbuf_text(text);
}

/* The bars of all visible tests that are driven. Returns how many there are; -1 when memory is out.
 */
static int list_bars(struct page *p, const struct card *card, struct chart_bar **out) {
    const struct rules *rules = p->rules;
    struct chart_bar *bars = request_array(p->r, (size_t)rules->item_count, sizeof *bars);
    int count = 0;
    if (bars == NULL)
        return -1;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = car_item(card->s->event, card->car, i);
        if (item == NULL || item->test < 0 || !card->s->view->visible[i] || is_to_come(card, i))
            continue;
        struct share share = share_of(card->sheet, item, card->s->cars[card->car].item_penalty[i]);
        bars[count++] = (struct chart_bar){.label = item->id,
                                           .early = share.early,
                                           .late = share.other > 0 ? share.other : 0,
                                           .dropped = is_dropped(card, i) || item->ties_only,
                                           .fails = fails_text(p, fails_at(card, i))};
    }
    *out = bars;
    return count;
}

static void put_bars(struct page *p, const void *of) {
    const struct card *card = of;
    chart_bars(&p->m, said(p, "picture-name"), card->bars, card->bar_count,
               p->rules->scoring.shown_as_time);
}

struct markup card_picture(struct page *p, struct card *card) {
    card->bar_count = list_bars(p, card, &card->bars);
    p->m.failed = p->m.failed || card->bar_count < 0;
    return card->bar_count > 0 ? (struct markup){put_bars, card} : (struct markup){0};
}

/* What a row of the twin is of. */
struct test_row {
    const struct card *card;
    int item;
    int64_t total;
    struct share share;
    bool known;
};

static const struct test_row *test_of(const struct table_row *row) {
    return row->of;
}

static void write_test(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<th scope=\"row\">");
    put_item(p, &p->rules->items[test_of(row)->item], false);
    textbuf_puts(&p->m, "</th>");
}

static void write_early(struct page *p, const struct table_row *row) {
    cell_known(p, test_of(row)->share.early, test_of(row)->known);
}

static void write_other(struct page *p, const struct table_row *row) {
    cell_known(p, test_of(row)->share.other, test_of(row)->known);
}

static void write_test_penalty(struct page *p, const struct table_row *row) {
    cell_known(p, test_of(row)->total, test_of(row)->known);
}

static void write_note(struct page *p, const struct table_row *row) {
    int fails = fails_at(test_of(row)->card, test_of(row)->item);
    textbuf_puts(&p->m, "<td>");
    if (!test_of(row)->known)
        say(p, "to-come");
    else if (is_dropped(test_of(row)->card, test_of(row)->item))
        say(p, "dropped");
    else if (p->rules->items[test_of(row)->item].ties_only)
        say(p, "ties-only");
    else if (fails > 0)
        say_count(p, "fails", fails, NULL);
    textbuf_puts(&p->m, "</td>");
}

void card_put_tests(struct page *p, const void *of) {
    static const struct table_cell cells[] = {
        {"test", .write = write_test},   {"early", .write = write_early},
        {"other", .write = write_other}, {"penalty", .write = write_test_penalty},
        {"note", .write = write_note},   {.key = NULL}};
    const struct card *card = of;
    struct table t;
    table_begin(&t, p, "twin", "twin", caption_text(said(p, "picture")), cells);
    for (int i = 0; i < p->rules->item_count; i++) {
        const struct item *item = car_item(card->s->event, card->car, i);
        if (item == NULL || item->test < 0 || !card->s->view->visible[i])
            continue;
        int64_t total = card->s->cars[card->car].item_penalty[i];
        textbuf_puts(&p->m, "<tr>");
        table_cells(&t, card->car,
                    &(struct test_row){card, i, total, share_of(card->sheet, item, total),
                                       !is_to_come(card, i)});
    }
    table_end(p);
}

/* ---- points ---- */

/* What a row of a day is of. */
struct point_row {
    const struct item *item;
    const struct scored_point *sp;
    const char *id;
    const char *why; /* the sentence behind its figure */
    int64_t precision;
};

static const struct point_row *point_of(const struct table_row *row) {
    return row->of;
}

static void write_point(struct page *p, const struct table_row *row) {
    const struct item *item = point_of(row)->item;
    textbuf_puts(&p->m, "<th scope=\"row\">");
    html_text(&p->m, point_of(row)->id);
    textbuf_puts(&p->m, " <small>");
    if (item->test >= 0) {
        textbuf_puts(&p->m, "<a ");
        page_href(p, "tests/%s?car=%d", item->id, p->event->entries->list[row->car].number);
        textbuf_putc(&p->m, '>');
    }
    html_text(&p->m, item->name);
    textbuf_puts(&p->m, item->test >= 0 ? "</a></small></th>" : "</small></th>");
}

static void write_due(struct page *p, const struct table_row *row) {
    cell_time(p, point_of(row)->sp->due, point_of(row)->precision);
}

static void write_actual(struct page *p, const struct table_row *row) {
    cell_time(p, point_of(row)->sp->actual, point_of(row)->precision);
}

static void write_deviation(struct page *p, const struct table_row *row) {
    int64_t deviation = point_of(row)->sp->deviation;
    textbuf_puts(&p->m, deviation > 0 ? "<td>+" : "<td>");
    if (deviation != TIME_NONE)
        put_time(p, deviation, point_of(row)->precision);
    textbuf_puts(&p->m, "</td>");
}

static void write_penalty(struct page *p, const struct table_row *row) {
    cell_known(p, point_of(row)->sp->penalty, scored_point_is_known(point_of(row)->sp));
}

static void write_why(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<td><details><summary>");
    say(p, state_word(point_of(row)->sp->state));
    if (point_of(row)->sp->fails > 0) {
        textbuf_puts(&p->m, ", ");
        say_count(p, "fails", point_of(row)->sp->fails, NULL);
    }
    textbuf_puts(&p->m, "</summary><span lang=\"en\">");
    html_text(&p->m, point_of(row)->why);
    textbuf_puts(&p->m, "</span></details></td>");
}

static const struct table_cell point_cells[] = {{"point", .write = write_point},
                                                {"due", .write = write_due},
                                                {"actual", .write = write_actual},
                                                {"deviation", .write = write_deviation},
                                                {"penalty", .write = write_penalty},
                                                {"why", .write = write_why},
                                                {.key = NULL}};

struct card_day {
    const struct card *card;
    int day;
};

/* "Day 2, 2027-05-21: 12.500, 1 fail". */
static void put_day_caption(struct page *p, const void *of) {
    const struct card_day *it = of;
    const struct card *card = it->card;
    struct textbuf *sum = request_text(p->r);
    const char *fails = fails_text(p, card->s->cars[card->car].day_fails[it->day]);
    if (totals_day_to_come(card->s, card->car, it->day))
        textbuf_puts(sum, "–");
    else
        words_penalty(sum, p, card->s->cars[card->car].day_penalty[it->day]);
    if (fails != NULL)
        textbuf_printf(sum, ", %s", fails);
    say_with(p, "card-day", page_text(p, "%d", it->day + 1), p->rules->days[it->day].date,
             textbuf_text(sum));
    p->m.failed = p->m.failed || sum->failed;
}

/* What decisions add to an item, behind its last point. */
static void put_decided(const struct table *t, const struct card *card, int scored,
                        struct textbuf *why) {
    struct decision_row row;
    for (int at = 0; decision_row_next(card->s, card->sheet, scored, &at, &row);) {
        const struct scored_point sp = {.penalty = row.penalty,
                                        .fails = row.fails,
                                        .state = row.state,
                                        .due = TIME_NONE,
                                        .actual = TIME_NONE,
                                        .deviation = TIME_NONE};
        textbuf_reset(why);
        decision_row_explain(why, &row);
        textbuf_puts(&t->page->m, "<tr>");
        table_cells(t, card->car,
                    &(struct point_row){.item = row.item,
                                        .sp = &sp,
                                        .id = row.point,
                                        .why = textbuf_text(why),
                                        .precision = row.item->rule.precision});
    }
}

static void put_day(struct page *p, const struct card *card, int day, struct textbuf *why) {
    const struct rules *rules = p->rules;
    const struct card_day it = {card, day};
    struct table t;
    table_begin(&t, p, "card", "card", caption_markup((struct markup){put_day_caption, &it}),
                point_cells);
    for (int i = 0; i < rules->scored_count; i++) {
        if (!score_sheet_shows(card->sheet, i) || rules->items[rules->scored[i].item].day != day)
            continue;
        struct explain_context context = explain_context_of(card->sheet, i);
        textbuf_reset(why);
        explain_point(why, &context);
        textbuf_puts(&p->m, "<tr>");
        table_cells(&t, card->car,
                    &(struct point_row){.item = context.item,
                                        .sp = &card->sheet->scored[i],
                                        .id = rules->scored[i].id,
                                        .why = textbuf_text(why),
                                        .precision = item_rule(context.item, i)->precision});
        put_decided(&t, card, i, why);
    }
    table_end(p);
}

static void put_day_cap(struct page *p, int64_t cap) {
    struct textbuf *most = request_text(p->r);
    words_penalty(most, p, cap);
    textbuf_puts(&p->m, "<p>");
    say_with(p, "card-day-cap", textbuf_text(most), NULL, NULL);
    textbuf_puts(&p->m, "</p>\n");
    p->m.failed = p->m.failed || most->failed;
}

void card_put_days(struct page *p, const void *of) {
    const struct card *card = of;
    struct textbuf *why = request_text(p->r);
    if (p->rules->scoring.day_cap != CAP_NONE)
        put_day_cap(p, p->rules->scoring.day_cap);
    for (int d = 0; d <= card->s->view->last_day; d++)
        put_day(p, card, d, why);
    p->m.failed = p->m.failed || why->failed;
}

/* ---- the total ---- */

/* A step of the total, and the total itself. */
struct total_row {
    const char *name;
    int64_t penalty;
    bool known;
    int fails;
    const char *how; /* NULL for nothing */
};

static const struct total_row *total_of(const struct table_row *row) {
    return row->of;
}

static void write_part(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<th scope=\"row\">");
    html_text(&p->m, total_of(row)->name);
    textbuf_puts(&p->m, "</th>");
}

static void write_part_penalty(struct page *p, const struct table_row *row) {
    cell_known(p, total_of(row)->penalty, total_of(row)->known);
}

static void write_fails(struct page *p, const struct table_row *row) {
    cell_fails(p, total_of(row)->fails);
}

static void write_how(struct page *p, const struct table_row *row) {
    const char *how = total_of(row)->how;
    textbuf_puts(&p->m, how != NULL ? "<td lang=\"en\">" : "<td>");
    html_text(&p->m, how != NULL ? how : "");
    textbuf_puts(&p->m, "</td>");
}

static void write_step(void *context, const struct total_step *step) {
    const struct table *t = context;
    struct page *p = t->page;
    /* What has no word of its own is a test's id. */
    const char *key = page_text(p, "step-%s", step->of);
    const char *name = said(p, key);
    textbuf_puts(&p->m, "<tr>");
    table_cells(t, -1,
                &(struct total_row){name == key ? step->of : name, step->penalty, !step->to_come,
                                    step->fails, step->why});
}

void card_put_total(struct page *p, const void *of) {
    static const struct table_cell cells[] = {{"part", .write = write_part},
                                              {"penalty", .write = write_part_penalty},
                                              {"fails", .write = write_fails},
                                              {"how", .write = write_how},
                                              {.key = NULL}};
    const struct card *card = of;
    const struct tally *tally = &card->s->cars[card->car].tally[BASIS_CORRECTED];
    struct table t;
    table_begin(&t, p, "steps", "steps", caption_text(said(p, "total-how")), cells);
    if (output_total_steps(card->s, card->sheet, card->car, write_step, &t) != ERR_OK)
        p->m.failed = true;
    textbuf_puts(&p->m, "<tr class=\"sum\">");
    table_cells(&t, -1,
                &(struct total_row){said(p, "total"), tally->total, true, tally->fails, NULL});
    table_end(p);
}
