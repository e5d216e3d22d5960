/* SPDX-License-Identifier: MIT */
/* The list of prizes in its forms. */
#include "output/awards.h"

#include "event/award_rules.h"
#include "event/entry_words.h"
#include "event/shown.h"
#include "format/csv.h"
#include "format/json_write.h"
#include "format/text_table.h"

/* The id of the group that a prize is for: "C", "2", "R1", "Withy MC"; "" overall and for teams. */
static void write_of(struct textbuf *b, const struct rules *rules, const struct award_call *c) {
    if (c->word != NULL)
        textbuf_puts(b, c->word);
    else if (c->of >= 0 && c->award->period)
        textbuf_puts(b, rules->periods[c->of].id);
    else if (c->of >= 0)
        output_group_id(b, rules, c->award->by, c->of);
}

/* Its name for people. */
static void write_group(struct textbuf *b, const struct rules *rules, const struct award_call *c) {
    if (c->word != NULL)
        textbuf_puts(b, c->word);
    else if (c->of >= 0 && c->award->period)
        textbuf_puts(b, rules->periods[c->of].name);
    else if (c->of >= 0)
        output_group_name(b, rules, c->award->by, c->of);
}

/* The crew's entry; for a team's prize, and where nobody takes it, any entry: not to be used. */
static const struct entry *entry_of(const struct awards *a, const struct award_call *c) {
    return &a->scores->event->entries->list[c->car < 0 ? 0 : c->car];
}

/* A member whose text is what `write` appends; null where that is nothing. */
static void write_named(struct textbuf *b, const char *key, const struct rules *rules,
                        const struct award_call *c,
                        void (*write)(struct textbuf *, const struct rules *,
                                      const struct award_call *)) {
    struct textbuf text = {0};
    write(&text, rules, c);
    json_member_text_or_null(b, key, text.len == 0 ? NULL : textbuf_text(&text));
    b->failed = b->failed || text.failed;
    textbuf_clear(&text);
}

static void write_team_json(struct textbuf *b, const struct entries *entries,
                            const struct team_standing *team) {
    json_member_text(b, "team", entries->teams[team->team]);
    json_member_array(b, "cars");
    for (int i = 0; i < team->car_count; i++)
        json_write_int(b, entries->list[team->cars[i]].number);
    json_close_array(b);
}

static void write_call_json(struct textbuf *b, const struct awards *a, const struct award_call *c) {
    const struct event *event = a->scores->event;
    json_open_object(b);
    json_member_text(b, "award", c->award->id);
    json_member_text(b, "name", c->award->name);
    json_member_text(b, "by", award_by_word(c->award));
    write_named(b, "of", event->rules, c, write_of);
    write_named(b, "group", event->rules, c, write_group);
    json_member_positive(b, "place", c->place);
    json_member_bool(b, "shared", c->shared);
    if (c->car >= 0) {
        const struct entry *e = &event->entries->list[c->car];
        json_member_int(b, "car", e->number);
        entry_crew_json(b, e);
        entry_vehicle_json(b, e);
    }
    if (c->team != NULL)
        write_team_json(b, event->entries, c->team);
    if (c->place > 0) {
        json_member_int(b, "fails", c->fails);
        json_member_decimal(b, "penalty", c->penalty);
    }
    json_close_object(b);
}

void awards_write_json(struct textbuf *b, const struct awards *a, const struct output_head *head) {
    json_open_object(b);
    json_member_text(b, "event", a->scores->event->rules->slug);
    json_member_text(b, "status", head->status);
    json_member_int(b, "revision", head->revision);
    json_member_array(b, "prizes");
    for (int i = 0; i < a->count; i++) {
        json_line(b);
        write_call_json(b, a, &a->calls[i]);
    }
    json_close_array(b);
    json_close_document(b);
}

void awards_write_csv(struct textbuf *b, const struct awards *a) {
    const struct event *event = a->scores->event;
    struct textbuf text = {0};
    textbuf_puts(b, "award,name,by,of,group,place,shared,car,driver,navigator,make,model,team,"
                    "fails,penalty\r\n");
    for (int i = 0; i < a->count; i++) {
        const struct award_call *c = &a->calls[i];
        const struct entry *e = entry_of(a, c);
        textbuf_printf(b, "%s,", c->award->id);
        csv_write_text(b, c->award->name);
        textbuf_printf(b, ",%s,", award_by_word(c->award));
        textbuf_reset(&text);
        write_of(&text, event->rules, c);
        csv_write_text(b, textbuf_text(&text));
        textbuf_putc(b, ',');
        textbuf_reset(&text);
        write_group(&text, event->rules, c);
        csv_write_text(b, textbuf_text(&text));
        textbuf_putc(b, ',');
        if (c->place > 0)
            textbuf_int(b, c->place);
        textbuf_printf(b, ",%s,", c->shared ? "yes" : "no");
        if (c->car >= 0)
            textbuf_int(b, e->number);
        const char *own[] = {c->car < 0 ? "" : e->driver, c->car < 0 ? "" : e->navigator,
                             c->car < 0 ? "" : e->make, c->car < 0 ? "" : e->model,
                             c->team == NULL ? "" : event->entries->teams[c->team->team]};
        for (size_t k = 0; k < sizeof own / sizeof own[0]; k++) {
            textbuf_putc(b, ',');
            csv_write_text(b, own[k]);
        }
        textbuf_putc(b, ',');
        if (c->place > 0)
            textbuf_int(b, c->fails);
        textbuf_putc(b, ',');
        if (c->place > 0)
            shown_write_penalty(b, &event->rules->scoring, c->penalty);
        textbuf_puts(b, "\r\n");
    }
    b->failed = b->failed || text.failed;
    textbuf_clear(&text);
}

static void text_row(struct text_table *table, const struct awards *a, const struct award_call *c,
                     struct textbuf *cell) {
    const struct event *event = a->scores->event;
    const struct entry *e = entry_of(a, c);
    const struct team_standing *team = c->team;
    int cars = team == NULL ? 0 : team->car_count;
    textbuf_puts(cell, c->award->name);
    if (c->of >= 0 || c->word != NULL) {
        textbuf_puts(cell, ", ");
        write_group(cell, event->rules, c);
    }
    text_table_cell(table, cell);
    if (c->place > 0)
        textbuf_printf(cell, "%d%s", c->place, c->shared ? "=" : "");
    text_table_cell(table, cell);
    if (c->car >= 0)
        textbuf_int(cell, e->number);
    text_table_cell(table, cell);
    if (c->car >= 0)
        entry_crew_words(cell, e);
    else
        textbuf_puts(cell, team == NULL ? "nobody" : event->entries->teams[team->team]);
    text_table_cell(table, cell);
    if (c->car >= 0) {
        entry_vehicle_words(cell, e);
        textbuf_printf(cell, ", %d", e->year);
    }
    for (int i = 0; i < cars; i++)
        textbuf_printf(cell, "%s%d", i > 0 ? ", " : "cars ",
                       event->entries->list[team->cars[i]].number);
    text_table_cell(table, cell);
    if (c->place > 0)
        shown_write_penalty(cell, &event->rules->scoring, c->penalty);
    if (c->fails > 0)
        textbuf_printf(cell, " and %d %s", c->fails, c->fails == 1 ? "fail" : "fails");
    text_table_cell(table, cell);
}

void awards_write_text(struct textbuf *b, const struct awards *a, const struct output_head *head) {
    struct text_table table = {0};
    struct textbuf cell = {0};
    text_table_column(&table, "Prize", false);
    text_table_column(&table, "Place", true);
    text_table_column(&table, "No", true);
    text_table_column(&table, "Crew or team", false);
    text_table_column(&table, "Car", false);
    text_table_column(&table, "Penalty", true);
    for (int i = 0; i < a->count; i++)
        text_row(&table, a, &a->calls[i], &cell);
    textbuf_plain(b, a->scores->event->rules->name);
    textbuf_printf(b, " — prizes, %s, as they are read out\n\n", head->status);
    text_table_write(&table, b);
    b->failed = b->failed || cell.failed;
    textbuf_clear(&cell);
}
