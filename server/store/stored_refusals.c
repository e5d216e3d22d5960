/* SPDX-License-Identifier: MIT */
#include "store/stored_refusals.h"

#include <stdlib.h>

#include "base/err.h"
#include "store/store_private.h"

int store_add_refusal(struct store *s, const struct stored_refusal *r, int64_t upload_id) {
    sqlite3_stmt *st = store_statement(s, ADD_REFUSAL);
    int bad = 0;
    bind_int(st, ":upload_id", upload_id, &bad);
    bind_int(st, ":row", r->row, &bad);
    bind_text(st, ":case_id", r->doubt_id, &bad);
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
        char **texts[] = {&r->doubt_id, &r->point,  &r->car,        &r->time,
                          &r->elapsed,  &r->faults, &r->reading_id, &r->reason};
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
        char *texts[] = {list[i].doubt_id,   list[i].point,   list[i].car,
                         list[i].time,       list[i].elapsed, list[i].faults,
                         list[i].reading_id, list[i].reason,  list[i].label};
        for (size_t k = 0; k < sizeof texts / sizeof texts[0]; k++)
            free(texts[k]);
    }
    free(list);
}
