/* SPDX-License-Identifier: MIT */
/* What a card tells of decisions and corrections: those of the car, and those for all. */
#include "base/decimal.h"
#include "pages/card.h"
#include "pages/page.h"
#include "pages/table.h"
#include "system/html.h"

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
    struct textbuf *text = request_text(p->r);
    switch (d->kind) {
    case DECIDE_ALLOWANCE:
        duration_write_words(text, d->value);
        break;
    case DECIDE_PENALTY:
    case DECIDE_NOTIONAL:
        decimal_write(text, d->value);
        break;
    case DECIDE_REJOIN:
        textbuf_int(text, d->value + 1);
        break;
    default:
        break;
    }
    if (text->len > 0)
        textbuf_putc(&p->m, ' ');
    words_figure(&p->m, p->lang, textbuf_text(text));
    p->m.failed = p->m.failed || text->failed;
}

static void write_decision(struct page *p, const struct decision *d) {
    textbuf_puts(&p->m, "<tr><th scope=\"row\">");
    html_text(&p->m, *d->text.field[DECISION_POINT] != '\0' ? d->text.field[DECISION_POINT] : "–");
    textbuf_puts(&p->m, "</th><td>");
    html_text(&p->m, said_of(p, "d", decision_word(d->kind)));
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

static void put_rulings(struct page *p, const void *of) {
    const struct card *card = of;
    const struct car_rulings *own = &card->s->event->rulings->cars[card->car];
    int count = 0;
    table_begin_by_hand(p, "rulings", said(p, "decisions-how"));
    for (int i = 0; i < own->count; i++) {
        if (shows(p, card->s, own->list[i]))
            write_decision(p, own->list[i]);
    }
    write_cancelled(p, card->s, true, &count);
    (void)write_corrections(p, card->s, card->car, true);
    table_end(p);
}

struct markup card_rulings_table(struct page *p, const struct card *card) {
    int count = card_rulings(p, card->s, card->car);
    write_cancelled(p, card->s, false, &count);
    return count > 0 ? (struct markup){put_rulings, card} : (struct markup){0};
}
