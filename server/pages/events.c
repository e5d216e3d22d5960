/* SPDX-License-Identifier: MIT */
/* The list of events, and an event's own page with its route. */
#include "base/decimal.h"
#include "event/kind.h"
#include "format/json_write.h"
#include "http/server.h"
#include "pages/how_scored.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"
#include "pages/templates.h"

/* ---- the list ---- */

struct events_row {
    const char *name;
    struct address home;
    const char *first_day; /* NULL where there is one day only */
    const char *last_day;
    int64_t cars;
    const char *status;
};

struct events_content {
    struct template_rows events;
};

static const struct template_hole row_holes[] = {TEMPLATE_HOLE(struct events_row, name),
                                                 TEMPLATE_HOLE(struct events_row, home),
                                                 TEMPLATE_HOLE(struct events_row, first_day),
                                                 TEMPLATE_HOLE(struct events_row, last_day),
                                                 TEMPLATE_HOLE(struct events_row, cars),
                                                 TEMPLATE_HOLE(struct events_row, status),
                                                 {0}};

static const struct template_hole events_holes[] = {
    TEMPLATE_EACH(struct events_content, events, row_holes), {0}};

struct template events_template = {.file = "web/board/templates/events.html",
                                   .holes = events_holes};

static void fill_row(struct page *p, const struct snapshot *s, struct events_row *out) {
    const struct rules *rules = s->event.rules;
    bool named = request_names_language(p->r);
    *out = (struct events_row){
        .name = rules->name,
        .home = page_local(p, "/%s/%s%s", rules->slug, named ? "?lang=" : "",
                           named ? lang_code(p->lang) : ""),
        .first_day = rules->day_count > 1 ? rules->days[0].date : NULL,
        .last_day = rules->days[rules->day_count - 1].date,
        .cars = s->event.entries->count,
        .status = said(p, view_status(s->public_results.view)),
    };
}

static void release_snapshot(void *snapshot) {
    snapshot_release(snapshot);
}

unsigned page_events(struct request *r, struct textbuf *b) {
    struct served_events *events = server_events(r->server);
    int count = served_events_count(events);
    struct events_row *rows = request_array(r, (size_t)count, sizeof *rows);
    int shown = 0;
    struct page p;
    page_begin(&p, r, NULL);
    if (rows == NULL)
        return page_give_up(&p);
    for (int i = 0; i < count; i++) {
        struct snapshot *s = snapshot_acquire(&served_events_at(events, i)->slot);
        if (s == NULL)
            continue;
        if (!request_owns(r, s, release_snapshot))
            return page_give_up(&p);
        fill_row(&p, s, &rows[shown++]);
    }
    const struct events_content content = {.events = TEMPLATE_ROWS_OF(rows, shown)};
    template_write(&p, &events_template, &content);
    return page_finish(&p, b, &(struct page_frame){.title = said(&p, "events")});
}

/* ---- an event's own page ---- */

struct event_day {
    int64_t number;
    const char *date;
    struct address starts;
};

struct event_era {
    const char *id;
    const char *name;
    int64_t cars;
    struct address standings;
};

struct event_content {
    const char *name;
    struct markup state;
    const char *first_day;
    const char *last_day;
    int64_t cars;
    struct address screen;
    struct template_rows days;
    bool distances; /* some are known */
    bool miles;     /* they are told in them */
    struct markup route;
    struct template_rows eras;
};

static const struct template_hole day_holes[] = {TEMPLATE_HOLE(struct event_day, number),
                                                 TEMPLATE_HOLE(struct event_day, date),
                                                 TEMPLATE_HOLE(struct event_day, starts),
                                                 {0}};

static const struct template_hole era_holes[] = {TEMPLATE_HOLE(struct event_era, id),
                                                 TEMPLATE_HOLE(struct event_era, name),
                                                 TEMPLATE_HOLE(struct event_era, cars),
                                                 TEMPLATE_HOLE(struct event_era, standings),
                                                 {0}};

static const struct template_hole event_holes[] = {
    TEMPLATE_HOLE(struct event_content, name),
    TEMPLATE_HOLE(struct event_content, state),
    TEMPLATE_HOLE(struct event_content, first_day),
    TEMPLATE_HOLE(struct event_content, last_day),
    TEMPLATE_HOLE(struct event_content, cars),
    TEMPLATE_HOLE(struct event_content, screen),
    TEMPLATE_EACH(struct event_content, days, day_holes),
    TEMPLATE_HOLE(struct event_content, distances),
    TEMPLATE_HOLE(struct event_content, miles),
    TEMPLATE_HOLE(struct event_content, route),
    TEMPLATE_EACH(struct event_content, eras, era_holes),
    {0}};

struct template event_template = {.file = "web/board/templates/event.html", .holes = event_holes};

/* What search engines take for the event's facts. */
static void write_data(const struct page *p, struct textbuf *b) {
    const struct rules *rules = p->rules;
    json_open_object(b);
    json_member_text(b, "@context", "https://schema.org");
    json_member_text(b, "@type", "SportsEvent");
    json_member_text(b, "name", rules->name);
    json_member_text(b, "startDate", rules->days[0].date);
    json_member_text(b, "endDate", rules->days[rules->day_count - 1].date);
    json_member_text(b, "sport", word(LANG_EN, "sport"));
    json_member_text(b, "eventStatus", "https://schema.org/EventScheduled");
    json_close_object(b);
}

static const struct item *item_of(const struct table_row *row) {
    return row->of;
}

static void write_point(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<th scope=\"row\">");
    put_item(p, item_of(row), true);
    textbuf_puts(&p->m, "</th>");
}

static void write_kind(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<td>");
    say(p, kind_name(item_of(row)->kind));
    textbuf_puts(&p->m, "</td>");
}

/* As the rules have it; the value is for a script that knows both units. */
static void write_distance(struct page *p, const struct table_row *row) {
    int64_t distance = item_of(row)->distance;
    textbuf_puts(&p->m, "<td>");
    if (distance >= 0) {
        textbuf_puts(&p->m, "<data value=\"");
        decimal_write_short(&p->m, distance);
        textbuf_puts(&p->m, "\">");
        size_t from = p->m.len;
        decimal_write_short(&p->m, distance);
        words_point(&p->m, p->lang, from);
        textbuf_puts(&p->m, "</data>");
    }
    textbuf_puts(&p->m, "</td>");
}

static bool has_distance(const struct page *p) {
    for (int i = 0; i < p->rules->item_count; i++) {
        if (p->rules->items[i].distance >= 0 && !p->view->hidden[i])
            return true;
    }
    return false;
}

/* "Day 2, 2027-05-21". */
static void put_route_caption(struct page *p, const void *of) {
    const int *day = of;
    say_with(p, "day", page_text(p, "%d", *day + 1), NULL, NULL);
    textbuf_printf(&p->m, ", %s", p->rules->days[*day].date);
}

static void put_route(struct page *p, const void *of) {
    const struct rules *rules = p->rules;
    const struct table_cell cells[] = {
        {"point", .write = write_point},
        {"kind", .write = write_kind},
        {"distance", .write = write_distance, .words = rules->miles ? "miles" : "km"},
        {.key = NULL}};
    struct table t;
    (void)of;
    for (int d = 0; d < rules->day_count; d++) {
        table_begin(&t, p, "route", "route", caption_markup((struct markup){put_route_caption, &d}),
                    cells);
        for (int i = 0; i < rules->item_count; i++) {
            if (rules->items[i].day != d || p->view->hidden[i])
                continue;
            textbuf_puts(&p->m, "<tr>");
            table_cells(&t, -1, &rules->items[i]);
        }
        table_end(p);
    }
    how_controls_write(p);
}

static bool list_days(struct page *p, struct template_rows *out) {
    const struct rules *rules = p->rules;
    struct event_day *days = request_array(p->r, (size_t)rules->day_count, sizeof *days);
    if (days == NULL)
        return false;
    for (int d = 0; d < rules->day_count; d++)
        days[d] =
            (struct event_day){d + 1, rules->days[d].date, page_address(p, "starts/%d", d + 1)};
    *out = (struct template_rows)TEMPLATE_ROWS_OF(days, rules->day_count);
    return true;
}

static int count_cars(const struct page *p, int class_index) {
    int count = 0;
    for (int car = 0; car < p->event->entries->count; car++)
        count += p->event->entries->list[car].class_index == class_index;
    return count;
}

/* Those that cars are entered in. */
static bool list_eras(struct page *p, struct template_rows *out) {
    int count = rules_class_count(p->rules);
    struct event_era *eras = request_array(p->r, (size_t)count, sizeof *eras);
    if (eras == NULL)
        return false;
    *out = (struct template_rows)TEMPLATE_ROWS_OF(eras, 0);
    for (int c = 0; c < count; c++) {
        int cars = count_cars(p, c);
        if (cars == 0)
            continue;
        struct textbuf *id = request_text(p->r);
        struct textbuf *name = request_text(p->r);
        rules_class_id(p->rules, c, id);
        rules_class_name(p->rules, c, name);
        eras[out->count++] = (struct event_era){textbuf_text(id), textbuf_text(name), cars,
                                                page_address(p, "?class=%s", textbuf_text(id))};
        p->m.failed = p->m.failed || id->failed || name->failed;
    }
    return true;
}

unsigned page_event(struct request *r, struct textbuf *b) {
    struct textbuf *data = request_text(r);
    struct page p;
    page_begin(&p, r, r->results->view);
    const struct rules *rules = p.rules;
    struct event_content content = {.name = rules->name,
                                    .state = page_state_line(),
                                    .first_day = rules->days[0].date,
                                    .last_day = rules->days[rules->day_count - 1].date,
                                    .cars = p.event->entries->count,
                                    .screen = page_address(&p, "screen"),
                                    .distances = has_distance(&p),
                                    .miles = rules->miles,
                                    .route = {.put = put_route}};
    write_data(&p, data);
    if (!list_days(&p, &content.days) || !list_eras(&p, &content.eras) || data->failed)
        return page_give_up(&p);
    template_write(&p, &event_template, &content);
    return page_finish(&p, b,
                       &(struct page_frame){.title = said(&p, "event"),
                                            .here = "event",
                                            .script = content.distances ? "units.js" : NULL,
                                            .data = textbuf_text(data)});
}
