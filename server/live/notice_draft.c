/* SPDX-License-Identifier: MIT */
#include "live/notice_draft.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "office/doubts.h"
#include "output/notice.h"
#include "output/output.h"
#include "store/stored_enquiries.h"
#include "store/stored_notices.h"
#include "system/system_clock.h"

static const char *const words[] = {[OBSTACLE_HIDDEN] = "hidden",
                                    [OBSTACLE_NO_PROVISIONAL] = "no-provisional",
                                    [OBSTACLE_PROTEST_PERIOD] = "protest-period",
                                    [OBSTACLE_CASE] = "case",
                                    [OBSTACLE_OPEN_POINT] = "open-point",
                                    [OBSTACLE_DOUBT] = "doubt"};

const char *obstacle_word(enum obstacle_kind kind) {
    return words[kind];
}

void obstacles_clear(struct obstacles *obstacles) {
    for (size_t i = 0; i < obstacles->count; i++)
        free(obstacles->list[i].text);
    free(obstacles->list);
    *obstacles = (struct obstacles){0};
}

/* Adds an obstacle with a text, as printf. */
static int add(struct obstacles *out, struct obstacle obstacle, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static int add(struct obstacles *out, struct obstacle obstacle, const char *format, ...) {
    va_list args;
    struct obstacle *list = array_reserve(out->list, &out->cap, out->count + 1, sizeof *list);
    if (list == NULL)
        return ERR_NOMEM;
    out->list = list;
    va_start(args, format);
    int len = vasprintf(&obstacle.text, format, args);
    va_end(args);
    if (len < 0)
        return ERR_NOMEM;
    list[out->count++] = obstacle;
    return ERR_OK;
}

/* A classification names every test: nothing may be hidden from the public any more. */
static int find_hidden(const struct snapshot *s, struct obstacles *out) {
    const struct rules *rules = s->event.rules;
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && i < rules->item_count; i++) {
        if (s->public_results.view->hidden[i])
            err = add(out, (struct obstacle){.kind = OBSTACLE_HIDDEN, .point = rules->items[i].id},
                      "%s is still hidden from the public", rules->items[i].id);
    }
    return err;
}

static int find_period(const struct noticeboard *board, int64_t now, struct obstacles *out) {
    const struct stored_notice *last = notice_draft_last_classification(board);
    if (last == NULL)
        return add(out, (struct obstacle){.kind = OBSTACLE_NO_PROVISIONAL},
                   "no provisional classification is posted");
    if (last->protest_until_ms <= now)
        return ERR_OK;
    struct textbuf until = {0};
    write_instant(&until, last->protest_until_ms);
    int err =
        until.failed
            ? ERR_NOMEM
            : add(out, (struct obstacle){.kind = OBSTACLE_PROTEST_PERIOD, .number = last->number},
                  "the protest period of notice %lld ends at %s", (long long)last->number,
                  textbuf_text(&until));
    textbuf_clear(&until);
    return err;
}

static int find_cases(const struct noticeboard *board, struct obstacles *out) {
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < board->enquiry_count; i++) {
        const struct stored_enquiry *e = &board->enquiries[i];
        struct obstacle found = {.kind = OBSTACLE_CASE, .number = e->number};
        (void)decimal_parse_whole(e->car, 1, NUMBER_MAX, &found.car);
        if (e->answered_ms == 0)
            err =
                add(out, found, "%s %lld of car %s is open", e->kind, (long long)e->number, e->car);
    }
    return err;
}

static int find_open_points(const struct snapshot *s, struct obstacles *out) {
    const struct rules *rules = s->event.rules;
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && i < rules->scored_count; i++) {
        const char *id = rules->points[rules->scored[i].point].id;
        if (view_scored_open(s->office_results.view, rules, i))
            err = add(out, (struct obstacle){.kind = OBSTACLE_OPEN_POINT, .point = id},
                      "%s is not closed", id);
    }
    return err;
}

static int find_doubts(const struct snapshot *s, struct obstacles *out) {
    struct doubts *doubts = NULL;
    int err = doubts_new(s->office_results.scores, &doubts);
    for (int i = 0; err == ERR_OK && i < doubts->count; i++) {
        const struct doubt *d = &doubts->list[i];
        struct obstacle found = {.kind = OBSTACLE_DOUBT,
                                 .car = doubt_number(&s->event, d),
                                 .point = s->event.rules->points[d->point].id};
        if (doubt_is_open(d) && out->doubts++ < DOUBTS_TOLD)
            err = add(out, found, "car %lld at %s is doubtful: %s", (long long)found.car,
                      found.point, d->why);
    }
    doubts_free(doubts);
    return err;
}

int obstacles_find(const struct noticeboard *board, const struct snapshot *s, bool final,
                   int64_t now, struct obstacles *out) {
    *out = (struct obstacles){0};
    int err = find_hidden(s, out);
    if (err != ERR_OK || !final)
        return err;
    err = find_period(board, now, out);
    if (err == ERR_OK)
        err = find_cases(board, out);
    if (err == ERR_OK)
        err = find_open_points(s, out);
    return err == ERR_OK ? find_doubts(s, out) : err;
}

const struct stored_notice *notice_draft_last_classification(const struct noticeboard *board) {
    for (size_t i = board == NULL ? 0 : board->count; i > 0; i--) {
        if (strcmp(board->list[i - 1].kind, "bulletin") != 0)
            return &board->list[i - 1];
    }
    return NULL;
}

static const char *title_of(const struct notice_draft_request *request) {
    if (*request->title != '\0')
        return request->title;
    return strcmp(request->kind, "final") == 0 ? "Final classification"
                                               : "Provisional classification";
}

int notice_draft_make(const struct notice_draft_request *request, const struct noticeboard *board,
                      const struct snapshot *s, int64_t now, struct notice_draft *draft) {
    bool bulletin = strcmp(request->kind, "bulletin") == 0;
    const struct stored_notice *last = bulletin ? NULL : notice_draft_last_classification(board);
    int64_t period = s->event.rules->scoring.protest_period;
    *draft = (struct notice_draft){
        .notice = {.number = board->count == 0 ? 1 : board->list[board->count - 1].number + 1,
                   .posted_ms = now,
                   .title = (char *)title_of(request),
                   .body = (char *)request->text,
                   .kind = (char *)request->kind,
                   .supersedes = last == NULL ? 0 : last->number}};
    write_instant(&draft->posted, now);
    if (strcmp(request->kind, "provisional") == 0 && period > 0) {
        draft->notice.protest_until_ms = now + period;
        write_instant(&draft->until, draft->notice.protest_until_ms);
    }
    if (draft->posted.failed || draft->until.failed)
        return ERR_NOMEM;
    struct notice_head head = {.number = draft->notice.number,
                               .kind = draft->notice.kind,
                               .title = draft->notice.title,
                               .text = draft->notice.body,
                               .event = request->slug,
                               .name = s->event.rules->name,
                               .posted = textbuf_text(&draft->posted),
                               .protest_until =
                                   draft->until.len > 0 ? textbuf_text(&draft->until) : NULL,
                               .supersedes = draft->notice.supersedes,
                               .revision = s->public_results.revision};
    return notice_content(&head, bulletin ? NULL : s->office_results.scores,
                          last == NULL ? NULL : last->content, &draft->notice.content);
}

void notice_draft_clear(struct notice_draft *draft) {
    free(draft->notice.content);
    textbuf_clear(&draft->posted);
    textbuf_clear(&draft->until);
    draft->notice.content = NULL;
}
