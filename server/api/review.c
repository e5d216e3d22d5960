/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <string.h>

#include "api/arguments.h"
#include "api/bodies.h"
#include "api/effects.h"
#include "api/event_object.h"
#include "base/arena.h"
#include "base/err.h"
#include "format/json_write.h"
#include "http/request.h"
#include "live/upload.h"
#include "output/awards.h"
#include "output/output.h"

static void free_awards(void *awards) {
    awards_free(awards);
}

unsigned api_prizes(struct request *r, struct textbuf *b) {
    struct awards *awards = NULL;
    bool csv = false;
    unsigned status = request_format(r, &csv);
    if (status != 0)
        return status;
    if (awards_new(r->results->scores, &awards) != ERR_OK || !request_owns(r, awards, free_awards))
        return request_no_memory(r);
    struct output_head head = {view_status(r->results->view), r->results->revision, NULL};
    if (csv)
        awards_write_csv(b, awards);
    else
        awards_write_json(b, awards, &head);
    return MHD_HTTP_OK;
}

/* Fields of a decision, then those that only a reading has. */
enum {
    TRIED_TIME = DECISION_FIELD_COUNT,
    TRIED_ELAPSED,
    TRIED_FAULTS,
    TRIED_REPLACES,
    TRIED_VOID,
    TRIED_COUNT
};

static const char *const tried_names[TRIED_COUNT] = {
    "kind", "car",  "point",   "value",  "reason",   "at",  "by",
    "id",   "time", "elapsed", "faults", "replaces", "void"};

/* Where a reading has its fields in a tried row. */
static const int reading_places[READING_FIELD_COUNT] = {
    [READING_POINT] = DECISION_POINT, [READING_CAR] = DECISION_CAR,
    [READING_TIME] = TRIED_TIME,      [READING_ELAPSED] = TRIED_ELAPSED,
    [READING_FAULTS] = TRIED_FAULTS,  [READING_AT] = DECISION_AT,
    [READING_BY] = DECISION_BY,       [READING_REPLACES] = TRIED_REPLACES,
    [READING_VOID] = TRIED_VOID,      [READING_REASON] = DECISION_REASON,
    [READING_ID] = DECISION_ID};

/* Rows that are tried, and what became of them. */
struct tried {
    const struct upload *upload;
    struct what_if *what_if;
    int accepted, duplicates;
    const char **refusals;  /* why, by row; NULL where it was not refused */
    struct textbuf *reason; /* of one row */
};

static int refuse(struct tried *tried, size_t row, const char *reason) {
    tried->refusals[row] = arena_text(tried->upload->arena, reason, strlen(reason));
    return tried->refusals[row] == NULL ? ERR_NOMEM : ERR_OK;
}

/* True for a row that revokes what is not there, or not yet. */
static bool revokes_nothing(const void *context, const struct upload_row *row) {
    const struct tried *tried = context;
    return row->wrong == NULL &&
           strcmp(row->fields[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
           decisions_find(tried->what_if->decisions, row->fields[DECISION_VALUE]) < 0;
}

static int try_row(void *context, size_t number) {
    struct tried *tried = context;
    const struct upload_row *row = &tried->upload->rows[number];
    struct textbuf *reason = tried->reason;
    enum fact_result result;
    textbuf_reset(reason);
    if (row->wrong != NULL)
        return refuse(tried, number, row->wrong);
    if (*row->fields[DECISION_KIND] != '\0') {
        struct decision_text text = {.extras = row->extras};
        memcpy(text.field, row->fields, sizeof text.field);
        result = what_if_decision(tried->what_if, &text, reason);
    } else {
        struct reading_text text = {.extras = row->extras,
                                    .from_desk = reading_names_desk(row->extras)};
        for (int i = 0; i < READING_FIELD_COUNT; i++)
            text.field[i] = row->fields[reading_places[i]];
        result = what_if_reading(tried->what_if, &text, reason);
    }
    if (result == FACT_NOMEM || reason->failed)
        return ERR_NOMEM;
    if (result == FACT_ADDED)
        tried->accepted++;
    else if (result == FACT_DUPLICATE)
        tried->duplicates++;
    return result == FACT_REFUSED ? refuse(tried, number, textbuf_text(reason)) : ERR_OK;
}

/* Adds the rows to what the snapshot holds, scores that, and compares. Returns ERR_OK or ERR_NOMEM.
 */
static int try_rows(struct request *r, struct tried *tried, const struct effect **effect) {
    const struct row_taker taker = {revokes_nothing, try_row, tried};
    const struct upload *upload = tried->upload;
    tried->refusals = arena_array(upload->arena, upload->count, sizeof *tried->refusals);
    int err = tried->refusals == NULL ? ERR_NOMEM : ERR_OK;
    if (err == ERR_OK)
        err = request_what_if(r, &r->snapshot->event, &tried->what_if);
    if (err == ERR_OK)
        err = upload_take_in_turn(upload, &taker);
    if (err == ERR_OK)
        err = what_if_score(tried->what_if, r->results->view->request);
    return err == ERR_OK ? request_effect(r, r->results->scores, tried->what_if->scores, effect)
                         : err;
}

static void write_refused(struct textbuf *b, const struct tried *tried) {
    for (size_t i = 0; i < tried->upload->count; i++) {
        const struct upload_row *row = &tried->upload->rows[i];
        if (tried->refusals[i] == NULL)
            continue;
        json_open_object(b);
        json_member_int(b, "row", (int64_t)i + 1);
        if (row->line > 0)
            json_member_int(b, "line", row->line);
        json_member_text(b, "id", row->fields[DECISION_ID]);
        json_member_text(b, "reason", tried->refusals[i]);
        json_close_object(b);
    }
}

/* Decisions among those tried that have no effect, since what they name is not on the car's route;
 * no member where there is none. They stand behind those that the snapshot has. */
static void write_off_route(const struct request *r, struct textbuf *b, const struct event *event) {
    bool any = false;
    for (int i = r->snapshot->event.decisions.count; i < event->decisions.count; i++) {
        const struct decision *d = event->decisions.list[i].decision;
        if (d->car < 0 || rulings_has_effect(event, d))
            continue;
        if (!any)
            json_member_array(b, "off_route");
        any = true;
        json_open_object(b);
        json_member_text(b, "kind", d->text.field[DECISION_KIND]);
        json_member_int(b, "car", event->entries->list[d->car].number);
        json_member_text(b, "point", d->text.field[DECISION_POINT]);
        json_close_object(b);
    }
    if (any)
        json_close_array(b);
}

static void write_effect(const struct request *r, struct textbuf *b, const struct tried *tried,
                         const struct effect *effect) {
    results_object_open(r, b);
    json_member_int(b, "accepted", tried->accepted);
    json_member_int(b, "duplicates", tried->duplicates);
    json_member_array(b, "refused");
    write_refused(b, tried);
    json_close_array(b);
    write_off_route(r, b, &tried->what_if->event);
    effect_write_members(b, effect);
    json_close_document(b);
}

unsigned act_effects(struct request *r, struct textbuf *b) {
    struct upload *upload = request_upload(r);
    const struct effect *effect = NULL;
    struct tried tried = {.upload = upload, .reason = request_text(r)};
    if (upload == NULL)
        return request_no_memory(r);
    unsigned status = request_rows(r, tried_names, TRIED_COUNT, 0, upload);
    if (status != 0)
        return status;
    if (try_rows(r, &tried, &effect) != ERR_OK)
        return request_no_memory(r);
    write_effect(r, b, &tried, effect);
    return MHD_HTTP_OK;
}
