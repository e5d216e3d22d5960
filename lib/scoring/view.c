/* SPDX-License-Identifier: MIT */
#include "scoring/view.h"

#include <stdlib.h>

#include "base/err.h"
#include "event/car_route.h"

bool view_scored_open(const struct view *view, const struct rules *rules, int scored) {
    const struct scored *it = &rules->scored[scored];
    bool open = view->open[it->point];
    /* The point is the last finish; that of the attempt before is two points back. */
    for (int n = 1; !open && n < rules->items[it->item].attempts; n++)
        open = view->open[it->point - 2 * n];
    return open;
}

static bool item_open(const struct rules *rules, const struct view *view, const struct item *item) {
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        if (view_scored_open(view, rules, i))
            return true;
    }
    return false;
}

int view_new(const struct event *event, struct view_request request, struct view **out) {
    const struct rules *rules = event->rules;
    struct view *view = calloc(1, sizeof *view);
    *out = NULL;
    if (view == NULL)
        return ERR_NOMEM;
    view->request = request;
    view->visible = calloc((size_t)rules->item_count, sizeof *view->visible);
    view->hidden = calloc((size_t)rules->item_count, sizeof *view->hidden);
    view->open = calloc((size_t)rules->point_count, sizeof *view->open);
    if (view->visible == NULL || view->hidden == NULL || view->open == NULL) {
        view_free(view);
        return ERR_NOMEM;
    }
    for (int i = 0; i < rules->point_count; i++)
        view->open[i] = request.live && !event->rulings->closed[i];
    view->all_closed = true;
    view->last_day = rules->day_count - 1;
    if (request.after >= 0)
        view->last_day = rules->items[request.after].day;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        bool open = item_open(rules, view, item);
        view->hidden[i] = request.public_view && item->reveal_closed && open;
        view->visible[i] = !view->hidden[i] && (request.after < 0 || i <= request.after);
        if (open && !view->hidden[i])
            view->all_closed = false;
    }
    *out = view;
    return ERR_OK;
}

void view_free(struct view *view) {
    if (view == NULL)
        return;
    free(view->visible);
    free(view->hidden);
    free(view->open);
    free(view);
}

int view_last_control(const struct view *view, const struct event *event, int car, bool standing) {
    for (int i = event->rules->item_count - 1; i >= 0; i--) {
        const struct item *item = car_item(event, car, i);
        if (item != NULL && item->kind == KIND_TIME_CONTROL && !view->hidden[i] &&
            (!standing || event->rulings->cancelled_item[i] == NULL))
            return i;
    }
    return -1;
}

int view_item_of(const struct rules *rules, const char *id) {
    int item = strmap_get(&rules->item_by_id, id);
    if (item >= 0)
        return item;
    int point = strmap_get(&rules->point_by_id, id);
    return point < 0 ? -1 : rules->points[point].item;
}

const char *view_status(const struct view *view) {
    return !view->all_closed ? "live" : view->is_final ? "final" : "provisional";
}

static bool shows_point(const struct view *view, const struct event *event, int point) {
    return !view->hidden[event->rules->points[point].item];
}

bool view_shows_reading(const struct view *view, const struct model *model,
                        const struct reading *reading) {
    const struct event *event = &model->event;
    const char *replaces = reading->text.field[READING_REPLACES];
    int other = *replaces == '\0' ? -1 : readings_find(model->readings, replaces);
    const struct reading *both[] = {reading,
                                    other < 0 ? reading : readings_at(model->readings, other)};
    for (int i = 0; i < 2; i++) {
        if (both[i]->aside == ASIDE_NOT && shows_point(view, event, both[i]->point))
            return true;
    }
    return false;
}

bool view_shows_decision(const struct view *view, const struct model *model,
                         const struct decision *d) {
    const struct event *event = &model->event;
    /* `left` ends the search where revokes name each other in a circle. */
    for (int left = decisions_count(model->decisions); d->kind == DECIDE_REVOKE; left--) {
        int target = d->ends >= 0 ? d->ends
                                  : decisions_find(model->decisions, d->text.field[DECISION_VALUE]);
        if (target < 0 || left < 0)
            return true;
        d = decisions_at(model->decisions, target);
    }
    if (d->kind == DECIDE_RETIRE || d->target == TARGET_NONE)
        return true;
    if (d->target == TARGET_ITEM)
        return !view->hidden[d->place];
    if (d->target == TARGET_POINT)
        return shows_point(view, event, d->place);
    for (int i = 0; i < event->rules->item_count; i++) {
        if (event->rules->items[i].day == d->place && !view->hidden[i])
            return true;
    }
    return false;
}
