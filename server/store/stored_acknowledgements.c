/* SPDX-License-Identifier: MIT */
#include "store/stored_acknowledgements.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

int store_add_acknowledgement(struct store *s, const struct stored_acknowledgement *a,
                              int64_t key_id) {
    sqlite3_stmt *st = store_statement(s, ADD_ACKNOWLEDGEMENT);
    int bad = 0;
    bind_int(st, ":made_ms", a->made_ms, &bad);
    bind_key(st, key_id, &bad);
    bind_text(st, ":case_id", a->doubt_id, &bad);
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
        *a = (struct stored_acknowledgement){.doubt_id = store_column_copy(st, 0),
                                             .reopened = store_column_is(st, 1, "reopened"),
                                             .car = store_column_copy(st, 2),
                                             .point = store_column_copy(st, 3),
                                             .title = store_column_copy(st, 4),
                                             .made_by = store_column_copy(st, 5),
                                             .reason = store_column_copy(st, 6),
                                             .made_ms = sqlite3_column_int64(st, 7)};
        if (a->doubt_id == NULL || a->car == NULL || a->point == NULL || a->title == NULL ||
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
        free(list[i].doubt_id);
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
                          const char *doubt_id) {
    for (size_t i = 0; i < count; i++) {
        if (strcmp(list[i].doubt_id, doubt_id) == 0)
            return &list[i];
    }
    return NULL;
}
