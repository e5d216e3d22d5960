/* SPDX-License-Identifier: MIT */
/* The cars that a desk waits for at a point. */
#include "api/api.h"

#include <stdlib.h>

#include "api/arguments.h"
#include "api/event_object.h"
#include "base/err.h"
#include "event/car_route.h"
#include "event/rulings.h"
#include "event/schedule.h"
#include "format/json_write.h"
#include "http/request.h"
#include "office/lacking.h"
#include "office/unassigned.h"
#include "system/hard_limits.h"

/* One car at the point. */
struct expectation {
    int car;
    int start;   /* its place in the start order */
    int64_t due; /* TIME_NONE where nothing can be told */
    const struct reading *reading;
    bool doubtful;
    bool out;
    bool further; /* read behind this point */
    bool before;  /* read at the control before, or there is none */
};

/* The control or road point before the point that day on a car's route which whoever asks may see;
 * -1 where there is none. */
static int control_before(const struct event *event, const struct view *view, int car, int point) {
    const struct rules *rules = event->rules;
    int item = rules->points[point].item;
    for (int i = item - 1; i >= 0 && rules->items[i].day == rules->items[item].day; i--) {
        bool control = rules->items[i].road.on || rules->items[i].kind == KIND_PASSAGE_CONTROL;
        if (control && !view->hidden[i] && car_item(event, car, i) != NULL)
            return i;
    }
    return -1;
}

/* True where nothing that whoever asks may see comes before the item that day on a car's route. */
static bool is_first_of_day(const struct event *event, const struct view *view, int car, int item) {
    const struct rules *rules = event->rules;
    for (int i = item - 1; i >= 0 && rules->items[i].day == rules->items[item].day; i--) {
        if (!view->hidden[i] && car_item(event, car, i) != NULL)
            return false;
    }
    return true;
}

/* When the car is to be started in a test: by the control before, or as its day starts. */
static int64_t start_due_at(const struct score_sheet *sheet, const struct item *item) {
    int64_t due = sheet->starts[item->place];
    if (due == TIME_NONE && is_first_of_day(sheet->event, sheet->view, sheet->car, item->place))
        due = rulings_start(sheet->event, item->day, sheet->car);
    return due;
}

/* When the car is due at the point, as far as its sheet tells. */
static int64_t due_at(const struct score_sheet *sheet, const struct rules *rules, int index) {
    const struct point *point = &rules->points[index];
    const struct item *item = car_item(sheet->event, sheet->car, point->item);
    if (item == NULL)
        return TIME_NONE;
    if (point->role == POINT_DEPARTURE) {
        const struct scored_point *arrival = &sheet->scored[item->first_scored];
        return arrival->reading == NULL || arrival->actual == TIME_NONE
                   ? TIME_NONE
                   : arrival->actual + item->road.halt;
    }
    if (point->role == POINT_START && point->number <= 1)
        return start_due_at(sheet, item);
    int64_t due = point->scored < 0 || sheet->scored[point->scored].durations
                      ? TIME_NONE
                      : sheet->scored[point->scored].due;
    return due == TIME_NONE && schedule_has_finish(item) && schedule_point(item) == index
               ? road_due(sheet, item)
               : due;
}

static int in_order(const void *a, const void *b) {
    const struct expectation *x = a;
    const struct expectation *y = b;
    int64_t from = x->due == TIME_NONE ? INT64_MAX : x->due;
    int64_t to = y->due == TIME_NONE ? INT64_MAX : y->due;
    return from != to ? (from > to) - (from < to) : x->start - y->start;
}

/* Later attempts at a test may be driven in another round: only those behind the point tell that
 * the car is past it. */
static bool is_read_further(const struct rules *rules, const struct score_sheet *sheet, int point) {
    const struct item *item = &rules->items[rules->points[point].item];
    if (!lacking_is_repeat(rules, point))
        return sheet->through > point;
    for (int p = point + 1; p < item->first_point + item->point_count; p++) {
        if (sheet->counted[p] != NULL)
            return true;
    }
    return false;
}

static void expect(struct expectation *e, const struct shown_scores *s,
                   const struct score_sheet *sheet, const struct request *r, int point) {
    const struct event *event = &r->snapshot->event;
    const struct rules *rules = event->rules;
    int control = control_before(event, s->view, e->car, point);
    int item = rules->points[point].item;
    e->reading = readings_counted(event->readings, e->car, point, &e->doubtful);
    e->doubtful = e->doubtful || (e->reading != NULL && !car_point_is_on(event, e->car, point));
    e->out = s->scores->cars[e->car].status == STATUS_DISQUALIFIED ||
             score_sheet_absent(sheet, e->car, point);
    e->further = is_read_further(rules, sheet, point);
    e->due = s->view->hidden[item] ? TIME_NONE : due_at(sheet, rules, point);
    e->before = control < 0;
    for (int p = 0; control >= 0 && p < rules->items[control].point_count; p++)
        e->before = e->before || sheet->counted[rules->items[control].first_point + p] != NULL;
}

static const char *state_of(const struct expectation *e, bool closed) {
    if (e->reading != NULL)
        return "seen";
    if (e->out)
        return "out";
    return e->further || closed ? "missing" : "expected";
}

static void write_expectation(struct textbuf *b, const struct event *event,
                              const struct expectation *e, bool closed) {
    const struct reading *reading = e->reading;
    json_open_object(b);
    json_member_int(b, "car", event->entries->list[e->car].number);
    json_member_time(b, "due", e->due, 0);
    json_member_text(b, "state", state_of(e, closed));
    json_member_time(b, "time", reading == NULL ? TIME_NONE : reading->time, 0);
    json_member_time(b, "elapsed", reading == NULL ? TIME_NONE : reading->elapsed, 0);
    json_member_text(b, "faults", reading == NULL ? "" : reading->text.field[READING_FAULTS]);
    json_member_text_or_null(b, "reading", reading == NULL ? NULL : reading->id);
    json_member_bool(b, "before", e->before);
    json_member_bool(b, "doubtful", e->doubtful);
    json_close_object(b);
}

/* What desks have sent of the point that is of no car of the list, the latest first: who times here
 * sees that it is kept. */
static void write_waiting(struct textbuf *b, const struct event *event, int point) {
    const struct readings_view view = event->readings;
    int left = LIMIT_WAITING_TOLD;
    json_member_array(b, "without_car");
    for (int i = readings_latest_aside(view); i >= 0 && left > 0; i = readings_before(view, i)) {
        const struct reading *reading = readings_view_at(view, i);
        if (reading->point != point || !unassigned_waits(view, reading))
            continue;
        left--;
        json_line(b);
        json_open_object(b);
        json_member_text(b, "reading", reading->id);
        json_member_text(b, "car", reading->text.field[READING_CAR]);
        json_member_time(b, "time", reading->time, 0);
        json_member_time(b, "elapsed", reading->elapsed, 0);
        json_member_text(b, "faults", reading->text.field[READING_FAULTS]);
        json_member_text(b, "desk", extra_value(reading->text.extras, "desk"));
        json_close_object(b);
    }
    json_close_array(b);
}

static void write_expected(struct textbuf *b, const struct request *r, int point,
                           const struct expectation *list, int count) {
    const struct event *event = &r->snapshot->event;
    bool closed = event->rulings->closed[point];
    int seen = 0;
    int out = 0;
    for (int i = 0; i < count; i++) {
        seen += list[i].reading != NULL;
        out += list[i].reading == NULL && list[i].out;
    }
    event_object_open(r, b);
    json_member_text(b, "point", event->rules->points[point].id);
    json_member_int(b, "revision", r->results->revision);
    event_list_json(r, b);
    json_member_int(b, "expected", count - out);
    json_member_int(b, "seen", seen);
    json_member_int(b, "out", out);
    json_member_array(b, "cars");
    for (int i = 0; i < count; i++) {
        json_line(b);
        write_expectation(b, event, &list[i], closed);
    }
    json_close_array(b);
    write_waiting(b, event, point);
    json_close_document(b);
}

/* The cars that start that day and come by the point, in the order in which they are due. One that
 * was read there though it is not on its route is shown, too. Returns ERR_OK or ERR_NOMEM. */
static int find_expected(struct request *r, int point, struct expectation **out, int *count) {
    const struct rules *rules = r->snapshot->event.rules;
    struct score_sheet sheet = {0};
    struct shown_scores s;
    int *cars = NULL;
    int starters = 0;
    int err = request_scores(r, -1, &s);
    if (err == ERR_OK)
        err = request_starters(r, rules->items[rules->points[point].item].day, &cars, &starters);
    if (err != ERR_OK)
        return err;
    struct expectation *list = request_array(r, (size_t)starters + 1, sizeof *list);
    if (list == NULL)
        return ERR_NOMEM;
    *count = 0;
    for (int i = 0; err == ERR_OK && i < starters; i++) {
        struct expectation *e = &list[*count];
        e->car = cars[i];
        e->start = i;
        err = scores_sheet(s.scores, cars[i], &sheet);
        if (err == ERR_OK)
            expect(e, &s, &sheet, r, point);
        score_sheet_clear(&sheet);
        *count += e->reading != NULL || car_point_is_on(&r->snapshot->event, cars[i], point);
    }
    qsort(list, (size_t)*count, sizeof *list, in_order);
    *out = list;
    return err;
}

unsigned api_expected(struct request *r, struct textbuf *b) {
    struct expectation *list = NULL;
    int point = -1;
    int count = 0;
    unsigned status = request_own_point(r, &point);
    if (status != 0)
        return status;
    if (find_expected(r, point, &list, &count) != ERR_OK)
        return request_no_memory(r);
    write_expected(b, r, point, list, count);
    return MHD_HTTP_OK;
}
