/* SPDX-License-Identifier: MIT */
/* The tables and the picture of a card: what each test and each point cost, and why; how the total
 * came about. */
#include <string.h>

#include "base/err.h"
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
        share.early = total;
    share.other = total - share.early;
    return share;
}

static bool is_dropped(const struct card *card, int item) {
    return (card->s->cars[card->car].item_flags[item] & ITEM_DROPPED) != 0;
}

static bool is_to_come(const struct card *card, int item) {
    return (card->s->cars[card->car].item_flags[item] & ITEM_TO_COME) != 0;
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
        const struct item *item = &rules->items[i];
        if (item->test < 0 || !card->s->view->visible[i] || is_to_come(card, i))
            continue;
        struct share share = share_of(card->sheet, item, card->s->cars[card->car].item_penalty[i]);
        bars[count++] = (struct chart_bar){item->id, share.early, share.other > 0 ? share.other : 0,
                                           is_dropped(card, i)};
    }
    *out = bars;
    return count;
}

static void put_bars(struct page *p, const void *of) {
    const struct card *card = of;
    chart_bars(&p->m, said(p, "picture-name"), card->bars, card->bar_count);
}

struct markup card_picture(struct page *p, struct card *card) {
    card->bar_count = list_bars(p, card, &card->bars);
    p->m.failed = p->m.failed || card->bar_count < 0;
    return card->bar_count > 0 ? (struct markup){put_bars, card} : (struct markup){0};
}

/* The picture's twin: every test with what was early, what was not, and what became of it. */
void card_put_tests(struct page *p, const void *of) {
    const struct card *card = of;
    const struct scores *s = card->s;
    const struct rules *rules = p->rules;
    table_begin_by_hand(p, "twin", said(p, "picture"));
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->test < 0 || !s->view->visible[i])
            continue;
        int64_t total = s->cars[card->car].item_penalty[i];
        struct share share = share_of(card->sheet, item, total);
        textbuf_puts(&p->m, "<tr><th scope=\"row\">");
        put_item(p, item, false);
        textbuf_puts(&p->m, "</th>");
        bool known = !is_to_come(card, i);
        cell_known(p, share.early, known);
        cell_known(p, share.other, known);
        cell_known(p, total, known);
        textbuf_puts(&p->m, "<td>");
        if (!known)
            say(p, "to-come");
        else if (is_dropped(card, i))
            say(p, "dropped");
        textbuf_puts(&p->m, "</td></tr>\n");
    }
    table_end(p);
}

/* ---- points ---- */

static void write_point(struct page *p, const struct card *card, int scored, struct textbuf *why) {
    const struct score_sheet *sheet = card->sheet;
    const struct rules *rules = p->rules;
    const struct item *item = &rules->items[rules->scored[scored].item];
    const struct scored_point *w = &sheet->scored[scored];
    struct explain_context context = {card->s->event, card->s->view, sheet, item, scored};
    textbuf_reset(why);
    explain_point(why, &context);
    textbuf_puts(&p->m, "<tr><th scope=\"row\">");
    html_text(&p->m, rules->scored[scored].id);
    textbuf_puts(&p->m, " <small>");
    if (item->test >= 0) {
        textbuf_puts(&p->m, "<a ");
        page_href(p, "tests/%s?car=%d", item->id, p->event->entries->list[sheet->car].number);
        textbuf_putc(&p->m, '>');
    }
    html_text(&p->m, item->name);
    textbuf_puts(&p->m, item->test >= 0 ? "</a></small></th>" : "</small></th>");
    cell_time(p, w->due, item->rule.precision);
    cell_time(p, w->actual, item->rule.precision);
    textbuf_puts(&p->m, w->deviation > 0 ? "<td>+" : "<td>");
    if (w->deviation != TIME_NONE)
        put_time(p, w->deviation, item->rule.precision);
    textbuf_puts(&p->m, "</td>");
    cell_known(p, w->penalty, w->state != STATE_AWAITING);
    textbuf_puts(&p->m, "<td><details><summary>");
    say(p, state_word(w->state));
    if (w->fails > 0) {
        textbuf_puts(&p->m, ", ");
        say_count(p, "fails", w->fails, NULL);
    }
    textbuf_puts(&p->m, "</summary><span lang=\"en\">");
    html_text(&p->m, textbuf_text(why));
    textbuf_puts(&p->m, "</span></details></td></tr>\n");
}

static void put_day(struct page *p, const struct card *card, int day, struct textbuf *why) {
    const struct rules *rules = p->rules;
    struct textbuf *caption = request_text(p->r);
    struct textbuf *sum = request_text(p->r);
    if (totals_day_to_come(card->s, card->car, day))
        textbuf_puts(sum, "–");
    else
        words_decimal(sum, p->lang, card->s->cars[card->car].day_penalty[day]);
    const char *args[] = {page_text(p, "%d", day + 1), rules->days[day].date, textbuf_text(sum)};
    words_put(caption, said(p, "card-day"), args, 3);
    table_begin_by_hand(p, "card", textbuf_text(caption));
    for (int i = 0; i < rules->scored_count; i++) {
        if (card->s->view->visible[rules->scored[i].item] &&
            rules->items[rules->scored[i].item].day == day)
            write_point(p, card, i, why);
    }
    table_end(p);
    p->m.failed = p->m.failed || caption->failed || sum->failed;
}

void card_put_days(struct page *p, const void *of) {
    const struct card *card = of;
    struct textbuf *why = request_text(p->r);
    for (int d = 0; d <= card->s->view->last_day; d++)
        put_day(p, card, d, why);
    p->m.failed = p->m.failed || why->failed;
}

/* ---- the total ---- */

static void write_step(void *context, const struct total_step *step) {
    struct page *p = context;
    /* What has no word of its own is a test's id. */
    const char *key = page_text(p, "step-%s", step->of);
    const char *name = said(p, key);
    textbuf_puts(&p->m, "<tr><th scope=\"row\">");
    html_text(&p->m, name == key ? step->of : name);
    textbuf_puts(&p->m, "</th>");
    cell_known(p, step->penalty, !step->to_come);
    cell_number(p, step->fails);
    textbuf_puts(&p->m, "<td lang=\"en\">");
    html_text(&p->m, step->why);
    textbuf_puts(&p->m, "</td></tr>\n");
}

void card_put_total(struct page *p, const void *of) {
    const struct card *card = of;
    const struct tally *tally = &card->s->cars[card->car].tally[BASIS_CORRECTED];
    table_begin_by_hand(p, "steps", said(p, "total-how"));
    if (output_total_steps(card->s, card->sheet, card->car, write_step, p) != ERR_OK)
        p->m.failed = true;
    textbuf_puts(&p->m, "<tr class=\"sum\"><th scope=\"row\">");
    say(p, "total");
    textbuf_puts(&p->m, "</th>");
    cell_penalty(p, tally->total);
    cell_number(p, tally->fails);
    textbuf_puts(&p->m, "<td></td></tr>\n");
    table_end(p);
}
