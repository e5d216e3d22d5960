/* SPDX-License-Identifier: MIT */
/* What a card tells of decisions and corrections: those of the car, and those for all. */
#include "event/car_route.h"
#include "event/shown.h"
#include "pages/card.h"
#include "pages/page.h"
#include "pages/table.h"
#include "system/html.h"

/* A row: a decision, or a reading that another one took the place of, or withdrew. */
struct ruling_row {
    const char *point;
    const struct decision *decision; /* NULL for a correction */
    const struct reading *old;
    const struct reading *new;
    bool told;          /* where the other reading belongs to, and who corrected it and why */
    const char *reason; /* as it was typed; "" where it is not told */
    const char *author; /* likewise */
    bool has_at;
    struct instant at;
};

static const struct ruling_row *ruling_of(const struct table_row *row) {
    return row->of;
}

static void write_point(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<th scope=\"row\">");
    html_text(&p->m, ruling_of(row)->point);
    textbuf_puts(&p->m, "</th>");
}

static void put_value(struct page *p, const struct decision *d) {
    struct textbuf *text = request_text(p->r);
    switch (d->kind) {
    case DECIDE_ALLOWANCE:
        duration_write_words(text, d->value);
        break;
    case DECIDE_PENALTY:
    case DECIDE_NOTIONAL:
        if (d->average)
            textbuf_puts(text, said(p, "d-average"));
        else
            shown_write_penalty(text, &p->rules->scoring, d->value);
        break;
    case DECIDE_FAILS:
        textbuf_int(text, d->value);
        break;
    case DECIDE_FAULTS:
        textbuf_puts(text, d->text.field[DECISION_VALUE]);
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

static const char *value_of(const struct page *p, const struct reading *reading) {
    const char *const *field = reading->text.field;
    return *field[READING_TIME] != '\0'      ? field[READING_TIME]
           : *field[READING_ELAPSED] != '\0' ? field[READING_ELAPSED]
                                             : said(p, "seen");
}

static void put_correction(struct page *p, const struct ruling_row *ruling) {
    const struct reading *old = ruling->old;
    const struct reading *new = ruling->new;
    say(p, new->is_void ? "withdrawn" : "corrected");
    textbuf_puts(&p->m, " <del>");
    html_text(&p->m, value_of(p, old));
    textbuf_puts(&p->m, "</del>");
    if (!new->is_void && ruling->told &&new->car == old->car &&new->point == old->point) {
        textbuf_puts(&p->m, " → ");
        html_text(&p->m, *new->text.field[READING_TIME] != '\0' ? new->text.field[READING_TIME]
                                                                : new->text.field[READING_ELAPSED]);
    }
}

static void write_what(struct page *p, const struct table_row *row) {
    const struct decision *decision = ruling_of(row)->decision;
    textbuf_puts(&p->m, "<td>");
    if (decision != NULL) {
        html_text(&p->m, said_of(p, "d", decision_word(decision->kind)));
        put_value(p, decision);
    } else {
        put_correction(p, ruling_of(row));
    }
    textbuf_puts(&p->m, "</td>");
}

static void write_reason(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<td class=\"typed\">");
    html_text(&p->m, ruling_of(row)->reason);
    textbuf_puts(&p->m, "</td>");
}

/* Who did it and when, as far as that is told. */
static void write_author(struct page *p, const struct table_row *row) {
    const struct ruling_row *ruling = ruling_of(row);
    textbuf_puts(&p->m, "<td>");
    if (ruling->has_at)
        put_moment(p, ruling->at.seconds * 1000);
    if (ruling->has_at && *ruling->author != '\0')
        textbuf_puts(&p->m, ", ");
    html_text(&p->m, ruling->author);
    textbuf_puts(&p->m, "</td>");
}

static const struct table_cell cells[] = {{"point", .write = write_point},
                                          {"what", .write = write_what},
                                          {"reason", .write = write_reason},
                                          {"by-whom", .write = write_author},
                                          {.key = NULL}};

static void write_ruling(const struct table *t, int car, const struct ruling_row *ruling) {
    textbuf_puts(&t->page->m, "<tr>");
    table_cells(t, car, ruling);
}

static void write_decision(const struct table *t, int car, const struct decision *d) {
    const char *const *field = d->text.field;
    write_ruling(t, car,
                 &(struct ruling_row){
                     .point = *field[DECISION_POINT] != '\0' ? field[DECISION_POINT] : "–",
                     .decision = d,
                     .reason = field[DECISION_REASON],
                     .author = field[DECISION_BY],
                     .has_at = d->has_at,
                     .at = d->at,
                 });
}

static void write_correction(const struct table *t, const struct scores *s, int car,
                             const struct reading *old, const struct reading *new) {
    const struct rules *rules = s->event->rules;
    bool told = new->aside == ASIDE_NOT && s->view->visible[rules->points[new->point].item];
    write_ruling(t, car,
                 &(struct ruling_row){
                     .point = rules->points[old->point].id,
                     .old = old,
                     .new = new,
                     .told = told,
                     .reason = told ? new->text.field[READING_REASON] : "",
                     .author = told ? new->text.field[READING_BY] : "",
                     .has_at = told &&new->has_at,
                     .at = new->at,
                 });
}

/* Returns how many there are; writes them where there is a table. */
static int write_corrections(const struct page *p, const struct scores *s, int car,
                             const struct table *t) {
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
            if (t != NULL)
                write_correction(t, s, car, reading, readings_view_at(readings, other));
        }
    }
    return count;
}

/* The same for what counts for nobody. */
static int write_cancelled(const struct page *p, const struct scores *s, int car,
                           const struct table *t) {
    const struct rulings *rulings = s->event->rulings;
    int count = 0;
    for (int i = 0; i < p->rules->item_count; i++) {
        const struct item *item = &p->rules->items[i];
        if (!s->view->visible[i] || car_item(s->event, car, i) == NULL)
            continue;
        if (rulings->cancelled_item[i] != NULL) {
            count++;
            if (t != NULL)
                write_decision(t, car, rulings->cancelled_item[i]);
        }
        for (int n = 0; n < item->point_count; n++) {
            const struct decision *d = rulings->cancelled_point[item->first_point + n];
            if (d == NULL || d == rulings->cancelled_item[i])
                continue;
            count++;
            if (t != NULL)
                write_decision(t, car, d);
        }
    }
    return count;
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
    return write_corrections(p, s, car, NULL) + count_own(p, s, car);
}

static void put_rulings(struct page *p, const void *of) {
    const struct card *card = of;
    const struct car_rulings *own = &card->s->event->rulings->cars[card->car];
    struct table t;
    table_begin(&t, p, "rulings", "rulings", caption_text(said(p, "decisions-how")), cells);
    for (int i = 0; i < own->count; i++) {
        if (shows(p, card->s, own->list[i]))
            write_decision(&t, card->car, own->list[i]);
    }
    (void)write_cancelled(p, card->s, card->car, &t);
    (void)write_corrections(p, card->s, card->car, &t);
    table_end(p);
}

struct markup card_rulings_table(struct page *p, const struct card *card) {
    int count = card_rulings(p, card->s, card->car);
    count += write_cancelled(p, card->s, card->car, NULL);
    return count > 0 ? (struct markup){put_rulings, card} : (struct markup){0};
}
