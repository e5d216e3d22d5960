/* SPDX-License-Identifier: MIT */
#include "pages/board_view.h"

#include <string.h>

#include "base/err.h"

/* "Nearly all": nine in ten. */
enum { SHARE_NUM = 9, SHARE_DEN = 10 };

static bool is_still_in(const struct car_score *score) {
    return score->status == STATUS_RUNNING || score->status == STATUS_FINISHED;
}

/* True where nothing is awaited of a car up to an item, and it was read there or later. */
static bool has_done(const struct scores *s, const struct car_score *score, int item) {
    const struct rules *rules = s->event->rules;
    if (score->through < rules->items[item].first_point)
        return false;
    for (int i = 0; i <= item; i++) {
        if (score->item_awaited[i] > 0)
            return false;
    }
    return true;
}

static int count_running(const struct scores *s) {
    int count = 0;
    for (int car = 0; car < s->event->entries->count; car++)
        count += is_still_in(&s->cars[car]);
    return count;
}

static int count_done(const struct scores *s, int item) {
    int count = 0;
    for (int car = 0; car < s->event->entries->count; car++)
        count += is_still_in(&s->cars[car]) && has_done(s, &s->cars[car], item);
    return count;
}

static int furthest_point(const struct scores *s) {
    int furthest = -1;
    for (int car = 0; car < s->event->entries->count; car++) {
        if (is_still_in(&s->cars[car]) && s->cars[car].through > furthest)
            furthest = s->cars[car].through;
    }
    return furthest;
}

/* The last visible test that at least nine in ten of the cars still in the event have done, with
 * nothing awaited up to there; -1 where there is none, or where no car has gone past it, so that
 * the live standings compare like with like by themselves. */
static int settled_item(const struct scores *s) {
    const struct rules *rules = s->event->rules;
    int running = count_running(s);
    int furthest = furthest_point(s);
    if (running == 0 || s->view->all_closed)
        return -1;
    for (int i = rules->item_count - 1; i >= 0; i--) {
        const struct item *item = &rules->items[i];
        if (item->test < 0 || !s->view->visible[i] || furthest < item->first_point ||
            count_done(s, i) * SHARE_DEN < running * SHARE_NUM)
            continue;
        return furthest >= item->first_point + item->point_count ? i : -1;
    }
    return -1;
}

/* The visible test before an item, -1 where there is none. */
static int test_before(const struct rules *rules, const struct view *view, int item) {
    while (--item >= 0) {
        if (rules->items[item].test >= 0 && view->visible[item])
            return item;
    }
    return -1;
}

/* A car's place in `was`: cars stand in one group of a grouping, but for groups of cars. */
static size_t place_of(const struct board_view *board, const struct standings_group *group,
                       int car) {
    size_t cars = (size_t)board->s.scores->event->entries->count;
    return (board->st->by == BY_GROUP ? (size_t)group->index * cars : 0) + (size_t)car;
}

/* Where each car stood in the view before. */
static int look_back(struct request *r, struct board_view *board) {
    const struct event *event = &r->snapshot->event;
    size_t groups = board->st->by == BY_GROUP ? (size_t)event->rules->group_count : 1;
    struct shown_scores s = {0};
    struct standings *st = NULL;
    board->was = request_array(r, groups * (size_t)event->entries->count + 1, sizeof *board->was);
    if (board->was == NULL)
        return ERR_NOMEM;
    int err = request_scores(r, board->before, &s);
    if (err == ERR_OK)
        err = request_standings(r, s.scores, board->st->by, -1, &st);
    for (int g = 0; err == ERR_OK && g < st->group_count; g++) {
        const struct standings_group *group = &st->groups[g];
        for (int i = 0; i < group->placed_count; i++)
            board->was[place_of(board, group, group->placed[i].car)] = group->placed[i].position;
    }
    return err;
}

/* The views before which a change is worth telling: ranks of a whole event. */
static bool tells_change(enum standings_by by) {
    return by == BY_OVERALL || by == BY_CLASS || by == BY_CATEGORY || by == BY_GROUP;
}

static int fill(struct request *r, struct board_view *board, enum standings_by by, int group,
                bool live) {
    const struct rules *rules = r->snapshot->event.rules;
    struct shown_scores now = {0};
    int err = request_scores(r, -1, &now);
    if (err != ERR_OK)
        return err;
    board->item = settled_item(now.scores);
    board->running = count_running(now.scores);
    if (board->after < 0 && !live && by != BY_TEST) {
        board->after = board->item;
        board->settled = board->item >= 0;
    }
    board->done = board->after >= 0 ? count_done(now.scores, board->after) : 0;
    board->before = board->after >= 0 ? test_before(rules, now.view, board->after) : board->item;
    err = request_scores(r, board->after, &board->s);
    if (err == ERR_OK)
        err = request_standings(r, board->s.scores, by, group, &board->st);
    if (err == ERR_OK && tells_change(by) && board->before >= 0)
        err = look_back(r, board);
    return err;
}

unsigned board_view_open(struct request *r, struct board_view *board) {
    enum standings_by by = BY_OVERALL;
    int class_index = -1;
    const char *view = request_query(r, "view");
    *board = (struct board_view){.after = -1, .before = -1};
    unsigned status = request_grouping(r, &by, &class_index);
    if (status == 0)
        status = request_after(r, &board->after);
    if (status == 0 && view != NULL && strcmp(view, "live") != 0)
        status = request_fail(r, MHD_HTTP_BAD_REQUEST, "“view” is live.");
    if (status != 0)
        return status;
    int err = fill(r, board, by, class_index, view != NULL);
    return err == ERR_OK ? 0 : request_no_standings(r, by, err);
}

int board_view_change(const struct board_view *board, const struct standings_group *group,
                      const struct standing *row) {
    if (board->was == NULL || row->position == 0)
        return 0;
    int was = board->was[place_of(board, group, row->car)];
    return was == 0 ? 0 : was - row->position;
}
