/* SPDX-License-Identifier: MIT */
#include "pages.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api.h"
#include "assets.h"
#include "decimal.h"
#include "err.h"
#include "explain.h"
#include "html.h"
#include "kind.h"
#include "output.h"

static unsigned out_of_memory(struct request *r) {
    return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
}

static void link_to(struct textbuf *b, const struct rules *rules, const char *path,
                    const char *text) {
    textbuf_printf(b, "<a href=\"/%s/%s\">", rules->slug, path);
    html_text(b, text);
    textbuf_puts(b, "</a> ");
}

static void write_nav(struct textbuf *b, const struct rules *rules) {
    char path[32];
    char text[32];
    textbuf_puts(b, "<a href=\"/\">Events</a> ");
    link_to(b, rules, "", "Standings");
    for (int d = 1; d <= rules->day_count; d++) {
        (void)snprintf(path, sizeof path, "starts/%d", d);
        (void)snprintf(text, sizeof text, "Start list, day %d", d);
        link_to(b, rules, path, text);
    }
    link_to(b, rules, "notices", "Notices");
}

/* The line on what the page shows: revision, when, and how final it is. */
static void write_state(struct textbuf *b, const struct request *r, const struct view *view) {
    const char *status = view_status(view);
    textbuf_puts(b, "Results are <strong>");
    textbuf_puts(b, status);
    textbuf_printf(b, "</strong>, revision %lld, last upload <time datetime=\"",
                   (long long)r->scene->revision);
    write_instant(b, r->scene->changed_ms);
    textbuf_puts(b, "\">");
    write_instant(b, r->scene->changed_ms);
    textbuf_puts(b, "</time> (UTC). Times of day are those of ");
    html_text(b, r->snapshot->event.rules->timezone);
    textbuf_puts(b, ".");
}

/* Sets a page around its main part, which is freed. */
static unsigned finish_page(struct request *r, struct textbuf *b, const char *title,
                            struct textbuf *main_part, const struct view *view) {
    const struct asset *page = asset_find("web/page.html");
    struct textbuf head = {0};
    struct textbuf nav = {0};
    struct textbuf state = {0};
    struct textbuf event = {0};
    if (r->scene != NULL) {
        const struct rules *rules = r->snapshot->event.rules;
        html_text(&event, rules->name);
        write_nav(&nav, rules);
        write_state(&state, r, view);
    } else {
        textbuf_puts(&event, "cairn");
        textbuf_puts(&nav, "<a href=\"/\">Events</a>");
    }
    html_text(&head, title);
    if (r->scene != NULL) {
        textbuf_puts(&head, " – ");
        textbuf_puts(&head, textbuf_text(&event));
        textbuf_printf(&head, " (%s)", view_status(view));
    }
    const struct html_slot slots[] = {
        {"title", textbuf_text(&head)},    {"assets", server_assets(r->server)},
        {"event", textbuf_text(&event)},   {"nav", textbuf_text(&nav)},
        {"main", textbuf_text(main_part)}, {"state", textbuf_text(&state)},
    };
    html_fill(b, page->bytes, page->end, slots, sizeof slots / sizeof slots[0]);
    b->failed =
        b->failed || head.failed || nav.failed || state.failed || event.failed || main_part->failed;
    textbuf_clear(&head);
    textbuf_clear(&nav);
    textbuf_clear(&state);
    textbuf_clear(&event);
    textbuf_clear(main_part);
    r->media_type = "text/html; charset=utf-8";
    return MHD_HTTP_OK;
}

unsigned page_asset(struct request *r, struct textbuf *b) {
    const struct asset *asset = asset_served_find(r->args[1]);
    if (asset == NULL || strcmp(r->args[0], server_assets(r->server) + 3) != 0)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    textbuf_add(b, asset->bytes, (size_t)(asset->end - asset->bytes));
    r->media_type = asset->media_type;
    return MHD_HTTP_OK;
}

unsigned page_events(struct request *r, struct textbuf *b) {
    struct scorekeeper *keeper = server_keeper(r->server);
    struct textbuf m = {0};
    textbuf_puts(&m, "<h1>Events</h1>\n<ul>\n");
    for (int i = 0; i < scorekeeper_count(keeper); i++) {
        struct snapshot *s = snapshot_acquire(&scorekeeper_at(keeper, i)->slot);
        if (s == NULL)
            continue;
        const struct rules *rules = s->event.rules;
        textbuf_printf(&m, "<li><a href=\"/%s/\">", rules->slug);
        html_text(&m, rules->name);
        textbuf_printf(&m, "</a>, %s to %s, %d cars, %s</li>\n", rules->days[0].date,
                       rules->days[rules->day_count - 1].date, s->event.entries->count,
                       view_status(s->open_scene.view));
        snapshot_release(s);
    }
    textbuf_puts(&m, "</ul>\n");
    return finish_page(r, b, "Events", &m, NULL);
}

static void penalty_cell(struct textbuf *m, int64_t penalty) {
    textbuf_puts(m, "<td class=\"n\">");
    decimal_write(m, penalty);
    textbuf_puts(m, "</td>");
}

/* Number and crew; the crew leads to the card. */
static void crew_cells(struct textbuf *m, const struct event *event, int car) {
    const struct entry *e = &event->entries->list[car];
    textbuf_printf(m, "<td class=\"n\">%d</td><th scope=\"row\"><a href=\"/%s/cars/%d\"><bdi>",
                   e->number, event->rules->slug, e->number);
    html_text(m, e->driver);
    textbuf_puts(m, "</bdi>");
    if (*e->navigator != '\0') {
        textbuf_puts(m, " / <bdi>");
        html_text(m, e->navigator);
        textbuf_puts(m, "</bdi>");
    }
    textbuf_puts(m, "</a></th>");
}

static void vehicle_cells(struct textbuf *m, const struct event *event, int car) {
    const struct entry *e = &event->entries->list[car];
    textbuf_puts(m, "<td>");
    html_text(m, e->make);
    textbuf_putc(m, ' ');
    html_text(m, e->model);
    textbuf_printf(m, "</td><td class=\"n\">%d</td><td>", e->year);
    rules_class_id(event->rules, e->class_index, m);
    textbuf_puts(m, "</td>");
}

static void car_cells(struct textbuf *m, const struct event *event, int car) {
    crew_cells(m, event, car);
    vehicle_cells(m, event, car);
}

static void write_notes(struct textbuf *m, const struct car_score *score) {
    textbuf_puts(m, "<td class=\"note\">");
    if (score->awaiting > 0)
        textbuf_printf(m, "%d reading%s awaited ", score->awaiting,
                       score->awaiting == 1 ? "" : "s");
    if (score->doubtful > 0)
        textbuf_printf(m, "%d doubtful", score->doubtful);
    textbuf_puts(m, "</td>");
}

static void begin_table(struct textbuf *m, const char *caption, const char *const *heads) {
    textbuf_puts(m, "<section class=\"scroll\" tabindex=\"0\" aria-label=\"");
    html_text(m, caption);
    textbuf_puts(m, "\">\n<table>\n<caption>");
    html_text(m, caption);
    textbuf_puts(m, "</caption>\n<thead><tr>");
    for (; *heads != NULL; heads++) {
        bool number = **heads == '#';
        textbuf_printf(m, "<th scope=\"col\"%s>%s</th>", number ? " class=\"n\"" : "",
                       *heads + number);
    }
    textbuf_puts(m, "</tr></thead>\n<tbody>\n");
}

static void end_table(struct textbuf *m) {
    textbuf_puts(m, "</tbody>\n</table>\n</section>\n");
}

/* A row can be jumped to by its car, where the car stands on the page once. */
static void begin_row(struct textbuf *m, const struct standings *st, int car) {
    if (st->group_count == 1)
        textbuf_printf(m, "<tr id=\"n%d\">", st->scores->event->entries->list[car].number);
    else
        textbuf_puts(m, "<tr>");
}

static void write_placed(struct textbuf *m, const struct standings *st,
                         const struct standings_group *g, const char *caption) {
    /* What a phone shows first comes first: place, crew, penalty. */
    static const char *const heads[] = {"#Place",   "#Car",    "Crew",  "#Penalty", "#To leader",
                                        "#To next", "Vehicle", "#Year", "Class",    "#In class",
                                        "#Fails",   "Through", "Note",  NULL};
    const struct scores *s = st->scores;
    begin_table(m, caption, heads);
    for (int i = 0; i < g->placed_count; i++) {
        const struct standing *row = &g->placed[i];
        const struct car_score *score = &s->cars[row->car];
        begin_row(m, st, row->car);
        textbuf_printf(m, "<td class=\"n\">%d%s</td>", row->position, row->equal ? " equal" : "");
        crew_cells(m, s->event, row->car);
        penalty_cell(m, row->penalty);
        penalty_cell(m, row->behind_leader);
        penalty_cell(m, row->behind_next);
        vehicle_cells(m, s->event, row->car);
        textbuf_puts(m, "<td class=\"n\">");
        if (score->class_position > 0)
            textbuf_int(m, score->class_position);
        textbuf_printf(m, "</td><td class=\"n\">%d</td><td>", row->fails);
        if (score->through >= 0)
            html_text(m, s->event->rules->points[score->through].id);
        textbuf_puts(m, "</td>");
        write_notes(m, score);
        textbuf_puts(m, "</tr>\n");
    }
    end_table(m);
}

static void write_others(struct textbuf *m, const struct standings *st, const struct standing *rows,
                         int count, const char *group, bool pending) {
    static const char *const heads[] = {"#Car", "Crew", "Vehicle", "#Year", "Class", "Why", NULL};
    if (count == 0)
        return;
    struct textbuf caption = {0};
    textbuf_printf(&caption, "%s: %s", pending ? "Still awaited" : "Without a place", group);
    begin_table(m, textbuf_text(&caption), heads);
    m->failed = m->failed || caption.failed;
    textbuf_clear(&caption);
    for (int i = 0; i < count; i++) {
        enum car_status status = st->scores->cars[rows[i].car].status;
        begin_row(m, st, rows[i].car);
        car_cells(m, st->scores->event, rows[i].car);
        textbuf_printf(m, "<td>%s</td></tr>\n",
                       pending                     ? "still awaited"
                       : !status_is_placed(status) ? status_word(status)
                       : st->by == BY_TEST         ? "absent from this test"
                                                   : "outside this classification");
    }
    end_table(m);
}

static void write_group(struct textbuf *m, const struct standings *st,
                        const struct standings_group *g) {
    struct textbuf name = {0};
    if (st->by == BY_CLASS) {
        textbuf_puts(&name, "Class ");
        rules_class_id(st->scores->event->rules, g->index, &name);
        textbuf_puts(&name, ", ");
    } else if (st->by == BY_TEST) {
        textbuf_printf(&name, "%s ", st->scores->event->rules->items[g->index].id);
    }
    output_group_name(&name, st, g);
    write_placed(m, st, g, textbuf_text(&name));
    write_others(m, st, g->pending, g->pending_count, textbuf_text(&name), true);
    write_others(m, st, g->unplaced, g->unplaced_count, textbuf_text(&name), false);
    m->failed = m->failed || name.failed;
    textbuf_clear(&name);
}

static void write_teams(struct textbuf *m, const struct standings *st) {
    static const char *const heads[] = {"#Place", "Team", "#Fails", "#Penalty", "Cars", NULL};
    const struct entries *entries = st->scores->event->entries;
    begin_table(m, "Teams", heads);
    for (int i = 0; i < st->team_count; i++) {
        const struct team_standing *t = &st->teams[i];
        textbuf_puts(m, "<tr><td class=\"n\">");
        if (i < st->teams_placed)
            textbuf_printf(m, "%d%s", t->position, t->equal ? " equal" : "");
        else
            textbuf_puts(m, "–");
        textbuf_puts(m, "</td><th scope=\"row\">");
        html_text(m, entries->teams[t->team]);
        textbuf_printf(m, "</th><td class=\"n\">%d</td>", t->fails);
        penalty_cell(m, t->penalty);
        textbuf_puts(m, "<td>");
        for (int c = 0; c < t->car_count; c++)
            textbuf_printf(m, "%s%d", c > 0 ? ", " : "", entries->list[t->cars[c]].number);
        textbuf_puts(m, "</td></tr>\n");
    }
    end_table(m);
}

/* Links to the other ways to look at the standings. */
static void write_choices(struct textbuf *m, const struct request *r, int after) {
    const struct rules *rules = r->snapshot->event.rules;
    const char *point = request_query(r, "after");
    textbuf_puts(m, "<nav class=\"choices\" aria-label=\"Groupings\">");
    for (int by = 0; by < BY_COUNT; by++) {
        if ((by == BY_CATEGORY && rules->category_count == 0) ||
            (by == BY_TEAM && rules->scoring.team_count == 0))
            continue;
        textbuf_printf(m, "<a href=\"/%s/?by=%s", rules->slug, by_word((enum standings_by)by));
        if (point != NULL) {
            textbuf_puts(m, "&amp;after=");
            html_text(m, rules->items[after].id);
        }
        textbuf_printf(m, "\">By %s</a> ", by_word((enum standings_by)by));
    }
    textbuf_printf(m, "</nav>\n<form action=\"/%s/\" method=\"get\" class=\"choices\">",
                   rules->slug);
    if (request_query(r, "by") != NULL) {
        textbuf_puts(m, "<input type=\"hidden\" name=\"by\" value=\"");
        html_text(m, request_query(r, "by"));
        textbuf_puts(m, "\">");
    }
    textbuf_puts(m,
                 "<label>Standings after <select name=\"after\"><option value=\"\">everything so "
                 "far</option>");
    for (int i = 0; i < rules->item_count; i++) {
        if (r->scene->view->hidden[i])
            continue;
        textbuf_printf(m, "<option value=\"%s\"%s>", rules->items[i].id,
                       i == after ? " selected" : "");
        html_text(m, rules->items[i].id);
        textbuf_putc(m, ' ');
        html_text(m, rules->items[i].name);
        textbuf_puts(m, "</option>");
    }
    textbuf_puts(m, "</select></label> <button type=\"submit\">Show</button></form>\n");
}

unsigned page_standings(struct request *r, struct textbuf *b) {
    static const char *const titles[BY_COUNT] = {
        "Standings",        "Standings by class", "Standings by category",
        "Standings by day", "Results by test",    "Teams"};
    struct scene_scores s = {0};
    struct standings *st = NULL;
    struct textbuf m = {0};
    enum standings_by by = BY_OVERALL;
    int class_index = -1;
    int after = -1;
    unsigned status = request_grouping(r, &by, &class_index);
    if (status == 0)
        status = request_after(r, &after);
    if (status != 0)
        return status;
    int err = request_scores(r, after, &s);
    if (err == ERR_OK)
        err = standings_new(s.scores, by, &st);
    if (err != ERR_OK) {
        scene_scores_free(&s);
        return err == ERR_UNKNOWN
                   ? request_fail(r, MHD_HTTP_NOT_FOUND, "This event has no such table.")
                   : out_of_memory(r);
    }
    if (class_index >= 0)
        standings_keep(st, class_index);
    textbuf_printf(&m, "<h1>%s</h1>\n<p>", titles[by]);
    write_state(&m, r, s.view);
    textbuf_puts(&m, "</p>\n");
    write_choices(&m, r, after);
    if (by == BY_TEAM)
        write_teams(&m, st);
    for (int i = 0; i < st->group_count; i++)
        write_group(&m, st, &st->groups[i]);
    status = finish_page(r, b, titles[by], &m, s.view);
    standings_free(st);
    scene_scores_free(&s);
    return status;
}

static void time_cell(struct textbuf *m, int64_t ms, enum time_unit unit) {
    textbuf_puts(m, "<td class=\"n\">");
    if (ms != TIME_NONE)
        time_write(m, ms, unit_decimals(unit));
    textbuf_puts(m, "</td>");
}

static void write_point(struct textbuf *m, const struct scores *s, const struct sheet *sheet,
                        int scored, struct textbuf *why) {
    const struct rules *rules = s->event->rules;
    const struct item *item = &rules->items[rules->scored[scored].item];
    const struct working *w = &sheet->workings[scored];
    struct story story = {s->event, s->view, sheet, item, scored};
    textbuf_reset(why);
    explain_point(why, &story);
    textbuf_puts(m, "<tr><th scope=\"row\">");
    html_text(m, rules->scored[scored].id);
    textbuf_puts(m, "</th><td>");
    if (item->test >= 0)
        textbuf_printf(m, "<a href=\"/%s/tests/%s\">", rules->slug, item->id);
    html_text(m, item->name);
    textbuf_puts(m, item->test >= 0 ? "</a></td>" : "</td>");
    time_cell(m, w->due, item->rule.precision);
    time_cell(m, w->actual, item->rule.precision);
    time_cell(m, w->deviation, item->rule.precision);
    penalty_cell(m, w->penalty);
    textbuf_printf(m, "<td>%s%s</td><td class=\"why\">", state_word(w->state),
                   w->fails > 0 ? ", fail" : "");
    html_text(m, textbuf_text(why));
    textbuf_puts(m, "</td></tr>\n");
}

static void write_step(void *context, const char *what, const char *why, int64_t amount,
                       int fails) {
    struct textbuf *m = context;
    textbuf_puts(m, "<tr><th scope=\"row\">");
    html_text(m, what);
    textbuf_puts(m, "</th>");
    penalty_cell(m, amount);
    textbuf_printf(m, "<td class=\"n\">%d</td><td class=\"why\">", fails);
    html_text(m, why);
    textbuf_puts(m, "</td></tr>\n");
}

static void write_card(struct textbuf *m, const struct scores *s, const struct sheet *sheet,
                       int car) {
    static const char *const heads[] = {"Point",    "Name",  "#Due", "#Actual", "#Deviation",
                                        "#Penalty", "State", "Why",  NULL};
    static const char *const step_heads[] = {"Of", "#Penalty", "#Fails", "How", NULL};
    const struct rules *rules = s->event->rules;
    struct textbuf why = {0};
    for (int d = 0; d <= s->view->last_day; d++) {
        struct textbuf caption = {0};
        textbuf_printf(&caption, "Day %d, %s", d + 1, rules->days[d].date);
        begin_table(m, textbuf_text(&caption), heads);
        for (int i = 0; i < rules->scored_count; i++) {
            if (s->view->visible[rules->scored[i].item] &&
                rules->items[rules->scored[i].item].day == d)
                write_point(m, s, sheet, i, &why);
        }
        end_table(m);
        textbuf_clear(&caption);
    }
    begin_table(m, "How the total comes about", step_heads);
    if (output_total_steps(s, sheet, car, write_step, m) != ERR_OK)
        m->failed = true;
    end_table(m);
    m->failed = m->failed || why.failed;
    textbuf_clear(&why);
}

static void write_card_head(struct textbuf *m, const struct scores *s, int car) {
    const struct entry *e = &s->event->entries->list[car];
    const struct car_score *score = &s->cars[car];
    textbuf_printf(m, "<h1>Car %d, <bdi>", e->number);
    html_text(m, e->driver);
    textbuf_puts(m, "</bdi>");
    if (*e->navigator != '\0') {
        textbuf_puts(m, " / <bdi>");
        html_text(m, e->navigator);
        textbuf_puts(m, "</bdi>");
    }
    textbuf_puts(m, "</h1>\n<p>");
    html_text(m, e->make);
    textbuf_putc(m, ' ');
    html_text(m, e->model);
    textbuf_printf(m, ", %d, class ", e->year);
    rules_class_id(s->event->rules, e->class_index, m);
    textbuf_printf(m, "; %s; penalty <strong>", status_word(score->status));
    decimal_write(m, score->tally[BASIS_CORRECTED].total);
    textbuf_puts(m, "</strong>");
    if (score->tally[BASIS_CORRECTED].fails > 0)
        textbuf_printf(m, ", fails %d", score->tally[BASIS_CORRECTED].fails);
    if (score->position > 0)
        textbuf_printf(m, ", place %d%s overall", score->position, score->equal ? " equal" : "");
    if (score->class_position > 0)
        textbuf_printf(m, ", %d in class", score->class_position);
    textbuf_puts(m, "</p>\n");
}

unsigned page_card(struct request *r, struct textbuf *b) {
    struct scene_scores s = {0};
    struct sheet sheet = {0};
    struct textbuf m = {0};
    char title[32];
    int car = -1;
    int after = -1;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status = request_after(r, &after);
    if (status != 0)
        return status;
    if (request_scores(r, after, &s) != ERR_OK)
        return out_of_memory(r);
    if (scores_sheet(s.scores, car, &sheet) == ERR_OK) {
        write_card_head(&m, s.scores, car);
        textbuf_puts(&m, "<p>");
        write_state(&m, r, s.view);
        textbuf_puts(&m, "</p>\n");
        write_card(&m, s.scores, &sheet, car);
        (void)snprintf(title, sizeof title, "Car %d", r->snapshot->event.entries->list[car].number);
        status = finish_page(r, b, title, &m, s.view);
    } else {
        status = out_of_memory(r);
    }
    sheet_clear(&sheet);
    scene_scores_free(&s);
    return status;
}

unsigned page_test(struct request *r, struct textbuf *b) {
    struct scene_scores s = {0};
    struct standings *st = NULL;
    struct textbuf m = {0};
    int place = -1;
    unsigned status = request_test(r, &place);
    if (status != 0)
        return status;
    int err = request_scores(r, -1, &s);
    if (err == ERR_OK)
        err = standings_new(s.scores, BY_TEST, &st);
    if (err != ERR_OK) {
        scene_scores_free(&s);
        return out_of_memory(r);
    }
    const struct item *item = &r->snapshot->event.rules->items[place];
    standings_keep(st, place);
    textbuf_puts(&m, "<h1>");
    html_text(&m, item->id);
    textbuf_putc(&m, ' ');
    html_text(&m, item->name);
    textbuf_printf(&m, "</h1>\n<p>%s, day %d. ", kind_of(item->kind)->words, item->day + 1);
    write_state(&m, r, s.view);
    textbuf_puts(&m, "</p>\n");
    for (int i = 0; i < st->group_count; i++)
        write_group(&m, st, &st->groups[i]);
    status = finish_page(r, b, item->id, &m, s.view);
    standings_free(st);
    scene_scores_free(&s);
    return status;
}

unsigned page_starts(struct request *r, struct textbuf *b) {
    static const char *const heads[] = {"#Start", "#Car",  "Crew", "Vehicle",
                                        "#Year",  "Class", NULL};
    const struct event *event = &r->snapshot->event;
    struct textbuf m = {0};
    struct textbuf caption = {0};
    int *cars = NULL;
    int count = 0;
    int day = -1;
    unsigned status = request_day(r, &day);
    if (status != 0)
        return status;
    if (starts_of_day(event, day, &cars, &count) != ERR_OK)
        return out_of_memory(r);
    textbuf_printf(&caption, "Start list, day %d, %s", day + 1, event->rules->days[day].date);
    textbuf_printf(&m, "<h1>%s</h1>\n", textbuf_text(&caption));
    begin_table(&m, textbuf_text(&caption), heads);
    for (int i = 0; i < count; i++) {
        textbuf_puts(&m, "<tr><td class=\"n\">");
        time_write(&m, rulings_start(event, day, cars[i]), 0);
        textbuf_puts(&m, "</td>");
        car_cells(&m, event, cars[i]);
        textbuf_puts(&m, "</tr>\n");
    }
    end_table(&m);
    status = finish_page(r, b, textbuf_text(&caption), &m, r->scene->view);
    textbuf_clear(&caption);
    free(cars);
    return status;
}

unsigned page_notices(struct request *r, struct textbuf *b) {
    const struct noticeboard *board = r->snapshot->notices;
    struct textbuf m = {0};
    textbuf_puts(&m, "<h1>Notices</h1>\n");
    if (board->count == 0)
        textbuf_puts(&m, "<p>Nothing is posted yet.</p>\n");
    for (size_t i = board->count; i-- > 0;) {
        const struct stored_notice *n = &board->list[i];
        textbuf_printf(&m, "<article><h2>%lld. ", (long long)n->number);
        html_text(&m, n->title);
        textbuf_puts(&m, "</h2>\n<p>Posted <time datetime=\"");
        write_instant(&m, n->posted_ms);
        textbuf_puts(&m, "\">");
        write_instant(&m, n->posted_ms);
        textbuf_puts(&m, "</time></p>\n<p>");
        html_text(&m, n->body);
        textbuf_puts(&m, "</p></article>\n");
    }
    return finish_page(r, b, "Notices", &m, r->scene->view);
}

void page_problem(struct request *r, struct textbuf *b, unsigned status) {
    const char *title = MHD_get_reason_phrase_for(status);
    struct textbuf m = {0};
    textbuf_printf(&m, "<h1>%s</h1>\n<p>", title);
    html_text(&m, textbuf_text(&r->detail));
    textbuf_puts(&m, "</p>\n<p><a href=\"/\">To the list of events</a></p>\n");
    (void)finish_page(r, b, title, &m, r->scene == NULL ? NULL : r->scene->view);
}
