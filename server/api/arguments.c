/* SPDX-License-Identifier: MIT */
#include "api/arguments.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "http/server.h"
#include "store/keys.h"
#include "store/store.h"

bool request_hides(const struct request *r, int item) {
    if (!r->results->view->hidden[item])
        return false;
    return r->role != ROLE_TIMEKEEPER ||
           !key_covers_item(r->snapshot->keys->keys[r->key].points, r->snapshot->event.rules, item);
}

bool request_covers(const struct request *r, int point) {
    return r->role == ROLE_ORGANISER ||
           key_covers(r->snapshot->keys->keys[r->key].points, r->snapshot->event.rules, point);
}

unsigned request_after(struct request *r, int *after) {
    const char *point = request_query(r, "after");
    *after = -1;
    if (point == NULL)
        return 0;
    *after = view_item_of(r->snapshot->event.rules, point);
    if (*after < 0 || request_hides(r, *after))
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no point “%s” on the route.", point);
    return 0;
}

unsigned request_car(struct request *r, int *car) {
    int64_t number = 0;
    *car = -1;
    if (decimal_parse_whole(r->args[1], 1, NUMBER_MAX, &number) == ERR_OK)
        *car = entries_find(r->snapshot->event.entries, number);
    return *car >= 0 ? 0
                     : request_fail(r, MHD_HTTP_NOT_FOUND,
                                    "There is no car “%s” in the entry list.", r->args[1]);
}

unsigned request_own_point(struct request *r, int *point) {
    const char *id = request_query(r, "point");
    if (id == NULL)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Which point? Add ?point=ID.");
    *point = strmap_get(&r->snapshot->event.rules->point_by_id, id);
    /* The same words whether the point is another's or does not exist. */
    if (*point < 0 || !request_covers(r, *point))
        return request_fail(r, MHD_HTTP_FORBIDDEN, "“%s” is not one of this key's points.", id);
    return 0;
}

unsigned request_test(struct request *r, int *item) {
    const struct rules *rules = r->snapshot->event.rules;
    *item = strmap_get(&rules->item_by_id, r->args[1]);
    if (*item >= 0 && rules->items[*item].test >= 0 && !request_hides(r, *item))
        return 0;
    return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no test “%s” on the route.", r->args[1]);
}

unsigned request_day(struct request *r, int *day) {
    int64_t number = 0;
    if (decimal_parse_whole(r->args[1], 1, r->snapshot->event.rules->day_count, &number) != ERR_OK)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no day “%s”.", r->args[1]);
    *day = (int)number - 1;
    return 0;
}

unsigned request_grouping(struct request *r, enum standings_by *by, int *class_index) {
    const struct rules *rules = r->snapshot->event.rules;
    const char *by_text = request_query(r, "by");
    const char *class_text = request_query(r, "class");
    *class_index = -1;
    *by = class_text != NULL ? BY_CLASS : BY_OVERALL;
    if (by_text != NULL && by_parse(by_text, by) != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "“by” is overall, class, category, group, day, test or team.");
    if (class_text == NULL)
        return 0;
    if (*by != BY_CLASS)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“class” goes with “by=class” only.");
    struct textbuf *id = request_text(r);
    for (int i = 0; i < rules_class_count(rules) && *class_index < 0; i++) {
        textbuf_reset(id);
        rules_class_id(rules, i, id);
        if (strcmp(textbuf_text(id), class_text) == 0)
            *class_index = i;
    }
    return *class_index >= 0
               ? 0
               : request_fail(r, MHD_HTTP_NOT_FOUND, "There is no class “%s”.", class_text);
}

static const char csv_type[] = "text/csv; charset=utf-8; header=present";

unsigned request_format(struct request *r, bool *csv) {
    const char *format = request_query(r, "format");
    *csv = format != NULL && strcmp(format, "csv") == 0;
    if (format != NULL && !*csv && strcmp(format, "json") != 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“format” is json or csv.");
    if (*csv)
        r->media_type = csv_type;
    return 0;
}

static void close_store(void *store) {
    store_close(store);
}

unsigned request_store(struct request *r, struct store **out) {
    if (served_events_open_store(server_events(r->server), r->served, out) != ERR_OK)
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                            "The event file cannot be read just now; try again.");
    return request_owns(r, *out, close_store) ? 0 : request_no_memory(r);
}

/* ---- scores ---- */

static void free_view(void *view) {
    view_free(view);
}

static void free_scores(void *scores) {
    scores_free(scores);
}

static void free_standings(void *standings) {
    standings_free(standings);
}

/* A timekeeper sees the public's event, and of what is hidden the items that are all its own. */
static void show_own_items(const struct request *r, struct view *view) {
    const struct rules *rules = r->snapshot->event.rules;
    const char *points = r->snapshot->keys->keys[r->key].points;
    for (int i = 0; i < rules->item_count; i++) {
        if (view->hidden[i] && key_covers_item(points, rules, i)) {
            view->hidden[i] = false;
            view->visible[i] = view->request.after < 0 || i <= view->request.after;
            view->all_closed = false;
        }
    }
}

/* A view and its scores, as request_scores_of; `own` adds what a timekeeper's key shows. */
static int score(struct request *r, const struct event *event, struct view_request wanted, bool own,
                 struct shown_scores *out) {
    struct view *view = NULL;
    struct scores *scores = NULL;
    int err = view_new(event, wanted, &view);
    if (err != ERR_OK)
        return err;
    if (!request_owns(r, view, free_view))
        return ERR_NOMEM;
    if (own) {
        view->is_final = r->results->view->is_final;
        if (r->role == ROLE_TIMEKEEPER)
            show_own_items(r, view);
    }
    err = scores_new(event, view, &scores);
    if (err == ERR_OK && !request_owns(r, scores, free_scores))
        err = ERR_NOMEM;
    if (err == ERR_OK)
        *out = (struct shown_scores){view, scores};
    return err;
}

int request_scores(struct request *r, int after, struct shown_scores *out) {
    struct view_request wanted = r->results->view->request;
    *out = (struct shown_scores){r->results->view, r->results->scores};
    if (after < 0 && r->role != ROLE_TIMEKEEPER)
        return ERR_OK;
    wanted.after = after;
    return score(r, &r->snapshot->event, wanted, true, out);
}

int request_scores_of(struct request *r, const struct event *event, struct view_request wanted,
                      struct shown_scores *out) {
    return score(r, event, wanted, false, out);
}

static void keep_group(struct standings *st, int index) {
    int kept = 0;
    for (int i = 0; i < st->group_count; i++) {
        if (st->groups[i].index == index)
            st->groups[kept++] = st->groups[i];
    }
    st->group_count = kept;
}

int request_standings(struct request *r, const struct scores *scores, enum standings_by by,
                      int group, struct standings **out) {
    int err = standings_new(scores, by, out);
    if (err != ERR_OK)
        return err;
    if (!request_owns(r, *out, free_standings))
        return ERR_NOMEM;
    if (group >= 0)
        keep_group(*out, group);
    return ERR_OK;
}

unsigned request_no_standings(struct request *r, enum standings_by by, int err) {
    if (err == ERR_UNKNOWN)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "This event has no %s.", by_lacking(by));
    return request_no_memory(r);
}

/* ---- starts ---- */

struct start {
    int car;
    int64_t time;
};

static int by_time(const void *a, const void *b) {
    const struct start *x = a;
    const struct start *y = b;
    return x->time != y->time ? (x->time > y->time) - (x->time < y->time) : x->car - y->car;
}

int request_starters(struct request *r, int day, int **cars, int *count) {
    const struct event *event = &r->snapshot->event;
    size_t room = (size_t)event->entries->count + 1;
    struct start *starts = request_array(r, room, sizeof *starts);
    int used = 0;
    *cars = request_array(r, room, sizeof **cars);
    if (starts == NULL || *cars == NULL)
        return ERR_NOMEM;
    for (int car = 0; car < event->entries->count; car++) {
        if (!rulings_out_before_day(event->rulings, car, day) &&
            event->rulings->cars[car].disqualified == NULL)
            starts[used++] = (struct start){car, rulings_start(event, day, car)};
    }
    qsort(starts, (size_t)used, sizeof *starts, by_time);
    for (int i = 0; i < used; i++)
        (*cars)[i] = starts[i].car;
    *count = used;
    return ERR_OK;
}
