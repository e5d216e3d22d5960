/* SPDX-License-Identifier: MIT */
#include "office/start_list.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/entry_words.h"
#include "format/csv.h"
#include "format/csv_columns.h"
#include "format/json_write.h"
#include "format/text_table.h"
#include "scoring/scoring.h"

static const char file[] = "starts.csv";

/* Past this a start cannot be written as a time of day. */
static const int64_t start_limit = INT64_C(48) * 3600000;

/* The order of the plan while it is worked out. */
struct ordering {
    const struct start_plan *plan;
    const struct scores *scores; /* NULL where the order needs none */
    struct problems *problems;
    int *cars;
    int count;
    int front; /* how many of the first START_BY_STANDINGS_REVERSED has reversed */
};

static bool starts(const struct start_plan *plan, int car) {
    const struct rulings *rulings = plan->event->rulings;
    return !rulings_out_before_day(rulings, car, plan->day) &&
           rulings->cars[car].disqualified == NULL;
}

/* True for a car that starts in the plan's order, and not as a late car. */
static bool in_order(const struct start_plan *plan, int car) {
    return starts(plan, car) && plan->late[car] == TIME_NONE;
}

static void add_by_number(struct ordering *o, bool only_unplaced, int from) {
    for (int car = 0; car < o->plan->event->entries->count; car++) {
        bool added = only_unplaced && o->scores->cars[car].position > 0;
        for (int i = from; !added && i < o->count; i++)
            added = o->cars[i] == car;
        if (!added && in_order(o->plan, car))
            o->cars[o->count++] = car;
    }
}

static void reverse(int *cars, int count) {
    for (int i = 0; i < count / 2; i++) {
        int other = cars[i];
        cars[i] = cars[count - 1 - i];
        cars[count - 1 - i] = other;
    }
}

static void add_by_standings(struct ordering *o) {
    const struct start_plan *plan = o->plan;
    for (int i = 0; i < o->scores->placed; i++) {
        if (in_order(plan, o->scores->order[i]))
            o->cars[o->count++] = o->scores->order[i];
    }
    if (plan->order == START_BY_STANDINGS_REVERSED) {
        o->front = plan->reverse_first > 0 && plan->reverse_first < o->count ? plan->reverse_first
                                                                             : o->count;
        reverse(o->cars, o->front);
        if (plan->rest_by_number) {
            o->count = o->front;
            add_by_number(o, false, 0);
            return;
        }
    }
    add_by_number(o, true, o->count);
}

static void add_by_era(struct ordering *o) {
    const struct entries *entries = o->plan->event->entries;
    for (int period = 0; period < o->plan->event->rules->period_count; period++) {
        for (int car = 0; car < entries->count; car++) {
            if (entries->list[car].period == period && in_order(o->plan, car))
                o->cars[o->count++] = car;
        }
    }
}

static void put_in_order(struct ordering *o) {
    switch (o->plan->order) {
    case START_BY_NUMBER:
        add_by_number(o, false, 0);
        break;
    case START_BY_NUMBER_REVERSED:
        add_by_number(o, false, 0);
        reverse(o->cars, o->count);
        break;
    case START_BY_STANDINGS:
    case START_BY_STANDINGS_REVERSED:
        add_by_standings(o);
        break;
    case START_BY_ERA:
        add_by_era(o);
        break;
    }
}

/* From the start of the car at that place to the next. */
static int64_t time_behind(const struct ordering *o, int place) {
    const struct start_plan *plan = o->plan;
    int car = o->cars[place];
    const struct entry *e = &plan->event->entries->list[car];
    int64_t interval = plan->interval;
    if (place < o->front && plan->interval_first != TIME_NONE)
        interval = plan->interval_first;
    else if (plan->by_class[e->class_index] != TIME_NONE)
        interval = plan->by_class[e->class_index];
    else if (e->category >= 0 && plan->by_category[e->category] != TIME_NONE)
        interval = plan->by_category[e->category];
    else if (plan->by_period[e->period] != TIME_NONE)
        interval = plan->by_period[e->period];
    return interval + plan->gap[car];
}

static int by_time(const void *a, const void *b) {
    const struct start_row *x = a;
    const struct start_row *y = b;
    return x->time != y->time ? (x->time > y->time) - (x->time < y->time) : x->car - y->car;
}

static int number_of(const struct start_plan *plan, int car) {
    return plan->event->entries->list[car].number;
}

static void add_row(const struct ordering *o, int car, int64_t time, struct start_list *out) {
    if (time >= start_limit)
        problems_add(o->problems, PROBLEM_ERROR, file, 0, "car %d would start later than 47:59:59",
                     number_of(o->plan, car));
    out->rows[out->count++] =
        (struct start_row){car, time, o->scores == NULL ? 0 : o->scores->cars[car].position};
}

static void give_times(struct ordering *o, struct start_list *out) {
    const struct start_plan *plan = o->plan;
    int cars = plan->event->entries->count;
    for (int car = 0; car < cars; car++) {
        if (plan->late[car] == START_AT_THE_END && starts(plan, car))
            o->cars[o->count++] = car;
    }
    int64_t time = plan->first;
    for (int i = 0; i < o->count; i++) {
        add_row(o, o->cars[i], time, out);
        time += time_behind(o, i);
    }
    for (int car = 0; car < cars; car++) {
        if (plan->late[car] != TIME_NONE && !starts(plan, car))
            problems_add(o->problems, PROBLEM_ERROR, file, 0,
                         "car %d is out before day %d and cannot start it", number_of(plan, car),
                         plan->day + 1);
        else if (plan->late[car] != TIME_NONE && plan->late[car] != START_AT_THE_END)
            add_row(o, car, plan->late[car], out);
    }
    qsort(out->rows, (size_t)out->count, sizeof *out->rows, by_time);
    for (int i = 1; i < out->count; i++) {
        if (out->rows[i].time == out->rows[i - 1].time)
            problems_add(o->problems, PROBLEM_DOUBT, file, 0, "cars %d and %d start together",
                         number_of(plan, out->rows[i - 1].car), number_of(plan, out->rows[i].car));
    }
}

/* What somebody should know about the standings that the order follows. */
static int doubt_standings(const struct ordering *o, int after) {
    const struct event *event = o->plan->event;
    struct view *open_view = NULL;
    int err = view_new(event, (struct view_request){true, true, after}, &open_view);
    for (int i = 0; err == ERR_OK && i <= after; i++) {
        if (open_view->hidden[i])
            problems_add(o->problems, PROBLEM_DOUBT, file, 0,
                         "the order tells of %s, which the public does not see yet",
                         event->rules->items[i].id);
    }
    view_free(open_view);
    for (int car = 0; car < event->entries->count; car++) {
        if (starts(o->plan, car) && o->scores->cars[car].awaited > 0)
            problems_add(o->problems, PROBLEM_DOUBT, file, 0,
                         "car %d still awaits a reading and starts behind those with a place",
                         number_of(o->plan, car));
    }
    return err;
}

/* The standings after the last item before the day, from the facts as they are. */
static int score(struct ordering *o, struct view **view, struct scores **scores) {
    const struct event *event = o->plan->event;
    int after = -1;
    for (int i = 0; i < event->rules->item_count; i++) {
        if (event->rules->items[i].day < o->plan->day)
            after = i;
    }
    if (after < 0) {
        problems_add(o->problems, PROBLEM_ERROR, file, 0,
                     "day %d follows no standings: order it by number, reversed or by era",
                     o->plan->day + 1);
        return ERR_INPUT;
    }
    int err = view_new(event, (struct view_request){true, false, after}, view);
    if (err == ERR_OK)
        err = scores_new(event, *view, scores);
    if (err != ERR_OK)
        return err;
    o->scores = *scores;
    return doubt_standings(o, after);
}

int start_list_make(const struct start_plan *plan, struct problems *problems,
                    struct start_list *out) {
    size_t cars = (size_t)plan->event->entries->count;
    struct ordering o = {.plan = plan, .problems = problems};
    struct view *view = NULL;
    struct scores *scores = NULL;
    int err = ERR_OK;
    *out = (struct start_list){.day = plan->day};
    out->rows = calloc(cars + 1, sizeof *out->rows);
    o.cars = calloc(cars + 1, sizeof *o.cars);
    if (out->rows == NULL || o.cars == NULL)
        err = ERR_NOMEM;
    if (err == ERR_OK &&
        (plan->order == START_BY_STANDINGS || plan->order == START_BY_STANDINGS_REVERSED))
        err = score(&o, &view, &scores);
    if (err == ERR_OK) {
        put_in_order(&o);
        give_times(&o, out);
    }
    scores_free(scores);
    view_free(view);
    free(o.cars);
    if (err == ERR_OK && problems_out_of_memory(problems))
        err = ERR_NOMEM;
    return err == ERR_OK && problems_fatal(problems) ? ERR_INPUT : err;
}

void start_list_clear(struct start_list *list) {
    free(list->rows);
    *list = (struct start_list){0};
}

/* ---- forms ---- */

static void write_rows(const struct start_list *list, const struct event *event, size_t extras,
                       struct textbuf *b) {
    for (int i = 0; i < list->count; i++) {
        textbuf_printf(b, "%d,%d,", list->day + 1, event->entries->list[list->rows[i].car].number);
        time_write(b, list->rows[i].time, 0);
        for (size_t extra = 0; extra < extras; extra++)
            textbuf_putc(b, ',');
        textbuf_puts(b, "\r\n");
    }
}

void start_list_csv(const struct start_list *list, const struct event *event, struct textbuf *b) {
    textbuf_puts(b, "day,car,time\r\n");
    write_rows(list, event, 0, b);
}

/* Copies a row unchanged, its known columns first. */
static void copy_row(const struct csv_columns *table, struct textbuf *b) {
    for (size_t i = 0; i < table->column_count; i++) {
        textbuf_puts(b, i > 0 ? "," : "");
        csv_write_field(b, csv_columns_field(table, i));
    }
    for (size_t i = 0; i < table->header_count; i++) {
        if (table->known[i])
            continue;
        textbuf_putc(b, ',');
        csv_write_field(b, table->csv.fields[i]);
    }
    textbuf_puts(b, "\r\n");
}

int start_list_merge(const struct start_list *list, const struct event *event, const char *old,
                     size_t len, struct textbuf *b) {
    static const struct column columns[] = {{"day", true}, {"car", true}, {"time", true}};
    struct problems problems = {0};
    struct csv_columns table = {0};
    struct arena *arena = arena_new();
    size_t extras = 0;
    int err = arena == NULL ? ERR_NOMEM : ERR_OK;
    textbuf_puts(b, "day,car,time");
    if (err == ERR_OK && old != NULL) {
        err = csv_columns_open(&table, file, old, len, columns, 3, arena, &problems);
        for (size_t i = 0; err == ERR_OK && i < table.header_count; i++) {
            if (table.known[i])
                continue;
            extras++;
            textbuf_putc(b, ',');
            csv_write_field(b, table.header[i]);
        }
    }
    textbuf_puts(b, "\r\n");
    while (err == ERR_OK && old != NULL) {
        enum csv_result result = csv_columns_next(&table);
        int64_t day = 0;
        if (result == CSV_END)
            break;
        if (result != CSV_ROW)
            err = result == CSV_NOMEM ? ERR_NOMEM : ERR_INPUT;
        else if (decimal_parse_whole(csv_columns_field(&table, 0), 1, DAYS_MAX, &day) != ERR_OK)
            err = ERR_INPUT;
        else if (day != list->day + 1)
            copy_row(&table, b);
    }
    write_rows(list, event, extras, b);
    if (old != NULL)
        csv_columns_close(&table);
    problems_clear(&problems);
    arena_free(arena);
    return err == ERR_OK && b->failed ? ERR_NOMEM : err;
}

void start_list_text(const struct start_list *list, const struct event *event, struct textbuf *b) {
    struct text_table table = {0};
    struct textbuf cell = {0};
    text_table_column(&table, "Start", false);
    text_table_column(&table, "No", true);
    text_table_column(&table, "Crew", false);
    text_table_column(&table, "Car", false);
    text_table_column(&table, "Year", true);
    text_table_column(&table, "Class", false);
    text_table_column(&table, "Place", true);
    text_table_column(&table, "Remarks                ", false);
    for (int i = 0; i < list->count; i++) {
        const struct start_row *row = &list->rows[i];
        const struct entry *e = &event->entries->list[row->car];
        time_write_short(&cell, row->time);
        text_table_cell(&table, &cell);
        textbuf_int(&cell, e->number);
        text_table_cell(&table, &cell);
        entry_crew_words(&cell, e);
        text_table_cell(&table, &cell);
        entry_vehicle_words(&cell, e);
        text_table_cell(&table, &cell);
        textbuf_int(&cell, e->year);
        text_table_cell(&table, &cell);
        rules_class_id(event->rules, e->class_index, &cell);
        text_table_cell(&table, &cell);
        if (row->position > 0)
            textbuf_int(&cell, row->position);
        text_table_cell(&table, &cell);
        text_table_cell(&table, &cell);
    }
    textbuf_plain(b, event->rules->name);
    textbuf_printf(b, " — start list, day %d, %s\n\n", list->day + 1,
                   event->rules->days[list->day].date);
    text_table_write(&table, b);
    b->failed = b->failed || cell.failed;
    textbuf_clear(&cell);
}

void start_write_json(struct textbuf *b, const struct event *event, int car, int64_t time) {
    const struct entry *e = &event->entries->list[car];
    json_open_object(b);
    json_member_int(b, "car", e->number);
    json_member_time(b, "time", time, 0);
    entry_crew_json(b, e);
    entry_vehicle_json(b, e);
    entry_class_json(b, event->rules, e->class_index);
    json_close_object(b);
}
