/* SPDX-License-Identifier: MIT */
/* A car's card: the whole event as a time card, with the reason of every figure behind it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api/arguments.h"
#include "api/crew.h"
#include "base/decimal.h"
#include "base/err.h"
#include "output/output.h"
#include "pages/chart.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"
#include "scoring/explain.h"
#include "scoring/totals.h"
#include "system/html.h"

/* A line of the summary: its name, then what the caller writes, then summary_end. */
static void summary_begin(struct page *p, const char *key) {
    textbuf_puts(&p->m, "<div><dt>");
    say(p, key);
    textbuf_puts(&p->m, "</dt><dd>");
}

static void summary_end(struct page *p) {
    textbuf_puts(&p->m, "</dd></div>\n");
}

/* The gap to a neighbour in the standings, with a link to it and to both side by side. */
static void write_neighbour(struct page *p, const struct scores *s, int car, int other,
                            const char *key) {
    const struct tally *mine = &s->cars[car].tally[BASIS_CORRECTED];
    const struct tally *theirs = &s->cars[other].tally[BASIS_CORRECTED];
    struct gap gap = {abs(mine->fails - theirs->fails), llabs(mine->total - theirs->total)};
    int number = p->event->entries->list[other].number;
    summary_begin(p, key);
    textbuf_puts(&p->m, "<strong>");
    put_gap(p, gap);
    textbuf_puts(&p->m, "</strong> ");
    put_plate(p, other);
    textbuf_puts(&p->m, " <a ");
    page_href(p, "cars/%d", number);
    textbuf_putc(&p->m, '>');
    put_crew(p, other);
    textbuf_puts(&p->m, "</a> <a ");
    page_href(p, "compare?cars=%d,%d", p->event->entries->list[car].number, number);
    textbuf_puts(&p->m, ">");
    say(p, "compare");
    textbuf_puts(&p->m, "</a>");
    summary_end(p);
}

static void write_neighbours(struct page *p, const struct scores *s, int car) {
    int place = 0;
    if (s->cars[car].position == 0)
        return;
    while (s->order[place] != car)
        place++;
    if (place > 1)
        write_neighbour(p, s, car, s->order[0], "to-leader");
    if (place > 0)
        write_neighbour(p, s, car, s->order[place - 1], "to-ahead");
    if (place + 1 < s->placed)
        write_neighbour(p, s, car, s->order[place + 1], "to-behind");
}

static void write_summary(struct page *p, const struct scores *s, int car) {
    const struct car_score *score = &s->cars[car];
    const struct tally *tally = &score->tally[BASIS_CORRECTED];
    textbuf_puts(&p->m, "<dl class=\"summary\">\n");
    summary_begin(p, "overall");
    if (score->position > 0)
        textbuf_printf(&p->m, "<strong>%s%d</strong>", score->equal ? "=" : "", score->position);
    else
        say(p, status_word(score->status));
    summary_end(p);
    summary_begin(p, "penalty");
    textbuf_puts(&p->m, "<strong>");
    put_penalty(p, tally->total);
    textbuf_puts(&p->m, "</strong>");
    if (tally->fails > 0) {
        textbuf_puts(&p->m, ", ");
        say_count(p, "fails", tally->fails, NULL);
    }
    summary_end(p);
    summary_begin(p, "era");
    put_class(p, car);
    if (score->class_position > 0)
        textbuf_printf(&p->m, ": <strong>%d</strong>", score->class_position);
    summary_end(p);
    write_neighbours(p, s, car);
    if (score->position > 0) {
        summary_begin(p, "status");
        say(p, status_word(score->status));
        summary_end(p);
    }
    if (score->awaiting > 0 || score->doubtful > 0) {
        summary_begin(p, "note");
        if (score->awaiting > 0)
            say_count(p, "awaiting", score->awaiting, NULL);
        if (score->awaiting > 0 && score->doubtful > 0)
            textbuf_puts(&p->m, ", ");
        if (score->doubtful > 0)
            say_count(p, "doubtful", score->doubtful, NULL);
        summary_end(p);
    }
    textbuf_puts(&p->m, "</dl>\n");
}

static void write_head(struct page *p, const struct scores *s, int car) {
    const struct entry *e = &p->event->entries->list[car];
    textbuf_puts(&p->m, "<h1>");
    put_plate(p, car);
    textbuf_putc(&p->m, ' ');
    put_crew(p, car);
    textbuf_puts(&p->m, "</h1>\n<p class=\"vehicle\">");
    put_vehicle(p, car);
    textbuf_printf(&p->m, ", %d", e->year);
    if (*e->team != '\0') {
        textbuf_puts(&p->m, " · ");
        html_text(&p->m, e->team);
    }
    textbuf_printf(&p->m, "</p>\n<p class=\"pin\" id=\"pin\" data-car=\"%d\" hidden>", e->number);
    static const char *const pins[][3] = {{"own", "pin-own", "unpin-own"},
                                          {"rival", "pin-rival", "unpin-rival"}};
    for (int i = 0; i < 2; i++) {
        textbuf_printf(&p->m, "<button type=\"button\" data-pin=\"%s\" data-other=\"", pins[i][0]);
        say(p, pins[i][2]);
        textbuf_puts(&p->m, "\">");
        say(p, pins[i][1]);
        textbuf_puts(&p->m, "</button> ");
    }
    textbuf_puts(&p->m, "</p>\n");
    page_state(p);
    write_summary(p, s, car);
}

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

static bool is_dropped(const struct scores *s, int car, int item) {
    return (s->cars[car].item_flags[item] & ITEM_DROPPED) != 0;
}

static bool is_to_come(const struct scores *s, int car, int item) {
    return (s->cars[car].item_flags[item] & ITEM_TO_COME) != 0;
}

static void write_bars(struct page *p, const struct scores *s, const struct score_sheet *sheet,
                       int car) {
    const struct rules *rules = p->rules;
    struct chart_bar *bars = calloc((size_t)rules->item_count + 1, sizeof *bars);
    int count = 0;
    for (int i = 0; bars != NULL && i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->test < 0 || !s->view->visible[i])
            continue;
        if (is_to_come(s, car, i))
            continue;
        int64_t total = s->cars[car].item_penalty[i];
        struct share share = share_of(sheet, item, total);
        bars[count++] = (struct chart_bar){item->id, share.early, share.other > 0 ? share.other : 0,
                                           is_dropped(s, car, i)};
    }
    p->m.failed = p->m.failed || bars == NULL;
    if (bars != NULL && count > 0) {
        textbuf_puts(&p->m, "<figure>\n<figcaption>");
        say(p, "picture");
        textbuf_puts(&p->m, "</figcaption>\n<p class=\"sides\"><span>◂ ");
        say(p, "early");
        textbuf_puts(&p->m, "</span> <span>");
        say(p, "late-other");
        textbuf_puts(&p->m, " ▸</span></p>\n");
        chart_bars(&p->m, said(p, "picture-name"), bars, count);
        textbuf_puts(&p->m, "</figure>\n");
    }
    free(bars);
}

/* The picture's twin: every test with what was early, what was not, and what became of it. */
static void write_tests(struct page *p, const struct scores *s, const struct score_sheet *sheet,
                        int car) {
    const struct rules *rules = p->rules;
    textbuf_puts(&p->m, "<details><summary>");
    say(p, "as-table");
    textbuf_puts(&p->m, "</summary>\n");
    table_begin_by_hand(p, "twin", said(p, "picture"));
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->test < 0 || !s->view->visible[i])
            continue;
        int64_t total = s->cars[car].item_penalty[i];
        struct share share = share_of(sheet, item, total);
        textbuf_puts(&p->m, "<tr><th scope=\"row\">");
        put_item(p, item, false);
        textbuf_puts(&p->m, "</th>");
        bool known = !is_to_come(s, car, i);
        cell_known(p, share.early, known);
        cell_known(p, share.other, known);
        cell_known(p, total, known);
        textbuf_puts(&p->m, "<td>");
        if (!known)
            say(p, "to-come");
        else if (is_dropped(s, car, i))
            say(p, "dropped");
        textbuf_puts(&p->m, "</td></tr>\n");
    }
    table_end(p);
    textbuf_puts(&p->m, "</details>\n");
}

static void write_point(struct page *p, const struct scores *s, const struct score_sheet *sheet,
                        int scored, struct textbuf *why) {
    const struct rules *rules = p->rules;
    const struct item *item = &rules->items[rules->scored[scored].item];
    const struct scored_point *w = &sheet->scored[scored];
    struct explain_context context = {s->event, s->view, sheet, item, scored};
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

static void write_days(struct page *p, const struct scores *s, const struct score_sheet *sheet,
                       int car) {
    const struct rules *rules = p->rules;
    struct textbuf why = {0};
    if (rules->scoring.drop_count > 0 || rules->scoring.has_coefficient) {
        textbuf_puts(&p->m, "<p>");
        say(p, "card-days");
        textbuf_puts(&p->m, "</p>\n");
    }
    for (int d = 0; d <= s->view->last_day; d++) {
        char number[16];
        struct textbuf caption = {0};
        struct textbuf sum = {0};
        (void)snprintf(number, sizeof number, "%d", d + 1);
        if (totals_day_to_come(s, car, d))
            textbuf_puts(&sum, "–");
        else
            words_decimal(&sum, p->lang, s->cars[car].day_penalty[d]);
        const char *args[] = {number, rules->days[d].date, textbuf_text(&sum)};
        words_put(&caption, said(p, "card-day"), args, 3);
        table_begin_by_hand(p, "card", textbuf_text(&caption));
        for (int i = 0; i < rules->scored_count; i++) {
            if (s->view->visible[rules->scored[i].item] &&
                rules->items[rules->scored[i].item].day == d)
                write_point(p, s, sheet, i, &why);
        }
        table_end(p);
        textbuf_clear(&caption);
        textbuf_clear(&sum);
    }
    p->m.failed = p->m.failed || why.failed;
    textbuf_clear(&why);
}

static void write_step(void *context, const struct total_step *step) {
    struct page *p = context;
    char key[64];
    (void)snprintf(key, sizeof key, "step-%s", step->of);
    /* What has no word of its own is a test's id. */
    const char *name = said(p, key);
    textbuf_puts(&p->m, "<tr><th scope=\"row\">");
    html_text(&p->m, strcmp(name, key) == 0 ? step->of : name);
    textbuf_puts(&p->m, "</th>");
    cell_known(p, step->penalty, !step->to_come);
    cell_number(p, step->fails);
    textbuf_puts(&p->m, "<td lang=\"en\">");
    html_text(&p->m, step->why);
    textbuf_puts(&p->m, "</td></tr>\n");
}

static void write_total(struct page *p, const struct scores *s, const struct score_sheet *sheet,
                        int car) {
    textbuf_puts(&p->m, "<h2>");
    say(p, "total");
    textbuf_puts(&p->m, "</h2>\n");
    table_begin_by_hand(p, "steps", said(p, "total-how"));
    if (output_total_steps(s, sheet, car, write_step, p) != ERR_OK)
        p->m.failed = true;
    textbuf_puts(&p->m, "<tr class=\"sum\"><th scope=\"row\">");
    say(p, "total");
    textbuf_puts(&p->m, "</th>");
    cell_penalty(p, s->cars[car].tally[BASIS_CORRECTED].total);
    cell_number(p, s->cars[car].tally[BASIS_CORRECTED].fails);
    textbuf_puts(&p->m, "<td></td></tr>\n");
    table_end(p);
}

/* Who did it and when, as far as that is told. */
static void write_author(struct page *p, const char *by, bool has_at, struct instant at) {
    textbuf_puts(&p->m, "<td>");
    if (has_at)
        put_moment(p, at.seconds * 1000);
    if (has_at && *by != '\0')
        textbuf_puts(&p->m, ", ");
    html_text(&p->m, by);
    textbuf_puts(&p->m, "</td></tr>\n");
}

static void put_value(struct page *p, const struct decision *d) {
    struct textbuf text = {0};
    switch (d->kind) {
    case DECIDE_ALLOWANCE:
        duration_write_words(&text, d->value);
        break;
    case DECIDE_PENALTY:
    case DECIDE_NOTIONAL:
        decimal_write(&text, d->value);
        break;
    case DECIDE_REJOIN:
        textbuf_int(&text, d->value + 1);
        break;
    default:
        break;
    }
    if (text.len > 0)
        textbuf_putc(&p->m, ' ');
    words_figure(&p->m, p->lang, textbuf_text(&text));
    textbuf_clear(&text);
}

static void write_decision(struct page *p, const struct decision *d) {
    char key[32];
    (void)snprintf(key, sizeof key, "d-%s", decision_word(d->kind));
    textbuf_puts(&p->m, "<tr><th scope=\"row\">");
    html_text(&p->m, *d->text.field[DECISION_POINT] != '\0' ? d->text.field[DECISION_POINT] : "–");
    textbuf_puts(&p->m, "</th><td>");
    say(p, key);
    put_value(p, d);
    textbuf_puts(&p->m, "</td><td class=\"typed\">");
    html_text(&p->m, d->text.field[DECISION_REASON]);
    textbuf_puts(&p->m, "</td>");
    write_author(p, d->text.field[DECISION_BY], d->has_at, d->at);
}

/* A reading that another one took the place of, or withdrew. */
static void write_correction(struct page *p, const struct scores *s, const struct reading *old,
                             const struct reading *by) {
    const struct event *event = s->event;
    const char *value = *old->text.field[READING_TIME] != '\0' ? old->text.field[READING_TIME]
                        : *old->text.field[READING_ELAPSED] != '\0'
                            ? old->text.field[READING_ELAPSED]
                            : said(p, "seen");
    bool told = s->view->visible[p->rules->points[by->point].item];
    textbuf_puts(&p->m, "<tr><th scope=\"row\">");
    html_text(&p->m, event->rules->points[old->point].id);
    textbuf_puts(&p->m, "</th><td>");
    say(p, by->is_void ? "withdrawn" : "corrected");
    textbuf_puts(&p->m, " <del>");
    html_text(&p->m, value);
    textbuf_puts(&p->m, "</del>");
    if (!by->is_void && told && by->car == old->car && by->point == old->point) {
        textbuf_puts(&p->m, " → ");
        html_text(&p->m, *by->text.field[READING_TIME] != '\0' ? by->text.field[READING_TIME]
                                                               : by->text.field[READING_ELAPSED]);
    }
    textbuf_puts(&p->m, "</td><td class=\"typed\">");
    if (told)
        html_text(&p->m, by->text.field[READING_REASON]);
    textbuf_puts(&p->m, "</td>");
    write_author(p, told ? by->text.field[READING_BY] : "", told && by->has_at, by->at);
}

static int write_corrections(struct page *p, const struct scores *s, int car, bool write) {
    const struct readings_view readings = s->event->readings;
    int count = 0;
    for (int point = 0; point < p->rules->point_count; point++) {
        if (!s->view->visible[p->rules->points[point].item])
            continue;
        for (int i = readings_latest(readings, car, point); i >= 0;
             i = readings_before(readings, i)) {
            const struct reading *reading = readings_view_at(readings, i);
            int other = readings_replacing(readings, reading);
            if (reading->is_void || other < 0)
                continue;
            count++;
            if (write)
                write_correction(p, s, reading, readings_view_at(readings, other));
        }
    }
    return count;
}

static void write_cancelled(struct page *p, const struct scores *s, bool write, int *count) {
    const struct rulings *rulings = s->event->rulings;
    for (int i = 0; i < p->rules->item_count; i++) {
        const struct item *item = &p->rules->items[i];
        if (!s->view->visible[i])
            continue;
        if (rulings->cancelled_item[i] != NULL) {
            ++*count;
            if (write)
                write_decision(p, rulings->cancelled_item[i]);
        }
        for (int n = 0; n < item->point_count; n++) {
            const struct decision *d = rulings->cancelled_point[item->first_point + n];
            if (d == NULL || d == rulings->cancelled_item[i])
                continue;
            ++*count;
            if (write)
                write_decision(p, d);
        }
    }
}

/* A retirement shows in the car's status even where it happened at a hidden item; but its place and
 * its reason, which may name the place, are told with the item only. */
static bool shows(const struct page *p, const struct scores *s, const struct decision *d) {
    if (d->target == TARGET_ITEM)
        return !s->view->hidden[d->place];
    return d->target != TARGET_POINT || !s->view->hidden[p->rules->points[d->place].item];
}

static int count_own(const struct page *p, const struct scores *s, int car) {
    const struct car_rulings *own = &s->event->rulings->cars[car];
    int count = 0;
    for (int i = 0; i < own->count; i++)
        count += shows(p, s, own->list[i]);
    return count;
}

int card_rulings(struct page *p, const struct scores *s, int car) {
    return write_corrections(p, s, car, false) + count_own(p, s, car);
}

static void write_rulings(struct page *p, const struct scores *s, int car) {
    const struct car_rulings *own = &s->event->rulings->cars[car];
    int count = card_rulings(p, s, car);
    write_cancelled(p, s, false, &count);
    textbuf_puts(&p->m, "<h2 id=\"decisions\">");
    say(p, "decisions");
    textbuf_puts(&p->m, "</h2>\n");
    if (count == 0) {
        textbuf_puts(&p->m, "<p>");
        say(p, "no-decisions");
        textbuf_puts(&p->m, "</p>\n");
        return;
    }
    table_begin_by_hand(p, "rulings", said(p, "decisions-how"));
    for (int i = 0; i < own->count; i++) {
        if (shows(p, s, own->list[i]))
            write_decision(p, own->list[i]);
    }
    write_cancelled(p, s, true, &count);
    (void)write_corrections(p, s, car, true);
    table_end(p);
}

/* What a copy of the site cannot take is left out there. */
static void write_ask(struct page *p, int car) {
    if (page_is_copy(p))
        return;
    textbuf_puts(&p->m, "<section class=\"asking\"><h2 id=\"ask\">");
    say(p, "ask");
    textbuf_puts(&p->m, "</h2>\n<p>");
    say(p, "ask-how");
    textbuf_puts(&p->m, " <a ");
    page_href(p, "cars/%d/enquiries#cases", p->event->entries->list[car].number);
    textbuf_putc(&p->m, '>');
    say(p, "ask-cases");
    textbuf_puts(&p->m, "</a></p>\n<details><summary>");
    say(p, "ask-write");
    textbuf_puts(&p->m, "</summary>\n");
    put_enquiry_form(p, car);
    textbuf_puts(&p->m, "</details></section>\n");
}

unsigned page_card(struct request *r, struct textbuf *b) {
    struct shown_scores s = {0};
    struct score_sheet sheet = {0};
    struct page p;
    char title[128];
    char downloads[32];
    int car = -1;
    int after = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status = request_after(r, &after);
    if (status != 0)
        return status;
    int err = request_scores(r, after, &s);
    page_begin(&p, r, err == ERR_OK ? s.view : r->results->view);
    if (err == ERR_OK)
        err = scores_sheet(s.scores, car, &sheet);
    if (err == ERR_OK) {
        int number = p.event->entries->list[car].number;
        write_head(&p, s.scores, car);
        write_bars(&p, s.scores, &sheet, car);
        write_tests(&p, s.scores, &sheet, car);
        write_days(&p, s.scores, &sheet, car);
        write_total(&p, s.scores, &sheet, car);
        write_rulings(&p, s.scores, car);
        write_ask(&p, car);
        (void)snprintf(title, sizeof title, "%s %d", said(&p, "car-title"), number);
        (void)snprintf(downloads, sizeof downloads, "cars/%d", number);
        status = page_finish(
            &p, b,
            &(struct page_frame){
                .title = title, .downloads = downloads, .csv = true, .sends = !page_is_copy(&p)});
    } else {
        status = page_give_up(&p);
    }
    score_sheet_clear(&sheet);
    return status;
}
