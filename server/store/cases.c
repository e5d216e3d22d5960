/* SPDX-License-Identifier: MIT */
/* Rows that were refused, doubts that were acknowledged, and why documents were replaced. */
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

int store_add_refusal(struct store *s, const struct stored_refusal *r, int64_t upload_id) {
    sqlite3_stmt *st = store_statement(s, ADD_REFUSAL);
    int bad = 0;
    bind_int(st, ":upload_id", upload_id, &bad);
    bind_int(st, ":row", r->row, &bad);
    bind_text(st, ":case_id", r->case_id, &bad);
    bind_text(st, ":point", r->point, &bad);
    bind_text(st, ":car", r->car, &bad);
    bind_text(st, ":time", r->time, &bad);
    bind_text(st, ":elapsed", r->elapsed, &bad);
    bind_text(st, ":faults", r->faults, &bad);
    bind_text(st, ":reading_id", r->reading_id, &bad);
    bind_text(st, ":reason", r->reason, &bad);
    return store_run(s, st, bad);
}

int store_open_refusals(struct store *s, struct stored_refusal **out, size_t *count) {
    sqlite3_stmt *st = store_statement(s, OPEN_REFUSALS);
    struct stored_list list = {.size = sizeof(struct stored_refusal)};
    int err = ERR_OK;
    for (struct stored_refusal *r; (r = store_next_item(s, st, &list, &err)) != NULL;) {
        *r = (struct stored_refusal){.times = sqlite3_column_int64(st, 1),
                                     .upload = sqlite3_column_int64(st, 2),
                                     .row = sqlite3_column_int64(st, 3),
                                     .received_ms = sqlite3_column_int64(st, 12),
                                     .key_id = sqlite3_column_int64(st, 13)};
        char **texts[] = {&r->case_id, &r->point,  &r->car,        &r->time,
                          &r->elapsed, &r->faults, &r->reading_id, &r->reason};
        for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
            *texts[i] = store_column_copy(st, 4 + (int)i);
            if (*texts[i] == NULL)
                err = ERR_NOMEM;
        }
        r->label = store_column_copy(st, 14);
        if (r->label == NULL)
            err = ERR_NOMEM;
    }
    if (err != ERR_OK) {
        stored_refusals_free(list.items, list.used);
        return err;
    }
    *out = list.items;
    *count = list.used;
    return ERR_OK;
}

void stored_refusals_free(struct stored_refusal *list, size_t count) {
    for (size_t i = 0; i < count; i++) {
        char *texts[] = {list[i].case_id,    list[i].point,   list[i].car,
                         list[i].time,       list[i].elapsed, list[i].faults,
                         list[i].reading_id, list[i].reason,  list[i].label};
        for (size_t k = 0; k < sizeof texts / sizeof texts[0]; k++)
            free(texts[k]);
    }
    free(list);
}

int store_add_acknowledgement(struct store *s, const struct stored_acknowledgement *a,
                              int64_t key_id) {
    sqlite3_stmt *st = store_statement(s, ADD_ACKNOWLEDGEMENT);
    int bad = 0;
    bind_int(st, ":made_ms", a->made_ms, &bad);
    if (key_id > 0)
        bind_int(st, ":key_id", key_id, &bad);
    bind_text(st, ":case_id", a->case_id, &bad);
    bind_text(st, ":state", a->reopened ? "reopened" : "acknowledged", &bad);
    bind_text(st, ":car", a->car, &bad);
    bind_text(st, ":point", a->point, &bad);
    bind_text(st, ":title", a->title, &bad);
    bind_text(st, ":made_by", a->made_by, &bad);
    bind_text(st, ":reason", a->reason, &bad);
    return store_run(s, st, bad);
}

int store_acknowledgements(struct store *s, struct stored_acknowledgement **out, size_t *count) {
    sqlite3_stmt *st = store_statement(s, ALL_ACKNOWLEDGEMENTS);
    struct stored_list list = {.size = sizeof(struct stored_acknowledgement)};
    int err = ERR_OK;
    for (struct stored_acknowledgement *a; (a = store_next_item(s, st, &list, &err)) != NULL;) {
        *a = (struct stored_acknowledgement){.case_id = store_column_copy(st, 0),
                                             .reopened = store_column_is(st, 1, "reopened"),
                                             .car = store_column_copy(st, 2),
                                             .point = store_column_copy(st, 3),
                                             .title = store_column_copy(st, 4),
                                             .made_by = store_column_copy(st, 5),
                                             .reason = store_column_copy(st, 6),
                                             .made_ms = sqlite3_column_int64(st, 7)};
        if (a->case_id == NULL || a->car == NULL || a->point == NULL || a->title == NULL ||
            a->made_by == NULL || a->reason == NULL)
            err = ERR_NOMEM;
    }
    if (err != ERR_OK) {
        stored_acknowledgements_free(list.items, list.used);
        return err;
    }
    *out = list.items;
    *count = list.used;
    return ERR_OK;
}

void stored_acknowledgements_free(struct stored_acknowledgement *list, size_t count) {
    for (size_t i = 0; i < count; i++) {
        free(list[i].case_id);
        free(list[i].car);
        free(list[i].point);
        free(list[i].title);
        free(list[i].made_by);
        free(list[i].reason);
    }
    free(list);
}

const struct stored_acknowledgement *
stored_acknowledgement_of(const struct stored_acknowledgement *list, size_t count,
                          const char *case_id) {
    for (size_t i = 0; i < count; i++) {
        if (strcmp(list[i].case_id, case_id) == 0)
            return &list[i];
    }
    return NULL;
}

int store_add_change_note(struct store *s, const struct change_note *note, int64_t upload_id) {
    sqlite3_stmt *st = store_statement(s, ADD_CHANGE_NOTE);
    int bad = 0;
    bind_int(st, ":upload_id", upload_id, &bad);
    bind_text(st, ":made_by", note->made_by, &bad);
    bind_text(st, ":reason", note->reason, &bad);
    bind_text(st, ":since", note->since, &bad);
    return store_run(s, st, bad);
}
