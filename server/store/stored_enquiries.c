/* SPDX-License-Identifier: MIT */
#include "store/stored_enquiries.h"

#include <stdlib.h>

#include "base/decimal.h"
#include "base/err.h"
#include "store/store_private.h"

int store_add_enquiry(struct store *s, const struct stored_enquiry *e, int64_t key_id,
                      const char *body, size_t len, int64_t *number) {
    sqlite3_stmt *st = store_statement(s, ADD_ENQUIRY);
    int bad = 0;
    bind_int(st, ":opened_ms", e->opened_ms, &bad);
    bind_key(st, key_id, &bad);
    bind_text(st, ":kind", e->kind, &bad);
    bind_text(st, ":car", e->car, &bad);
    bind_text(st, ":point", e->point, &bad);
    bind_text(st, ":text", e->text, &bad);
    bind_blob(st, ":body", body, len, &bad);
    bind_text(st, ":source", e->by_crew ? "crew" : "office", &bad);
    int err = store_run(s, st, bad);
    if (err == ERR_OK)
        *number = sqlite3_last_insert_rowid(s->db);
    return err;
}

int store_add_answer(struct store *s, const struct stored_enquiry *e, int64_t key_id,
                     const char *body, size_t len) {
    sqlite3_stmt *st = store_statement(s, ADD_ANSWER);
    int bad = 0;
    bind_int(st, ":enquiry_id", e->number, &bad);
    bind_int(st, ":answered_ms", e->answered_ms, &bad);
    bind_key(st, key_id, &bad);
    bind_text(st, ":outcome", e->outcome, &bad);
    bind_text(st, ":text", e->answer, &bad);
    bind_blob(st, ":body", body, len, &bad);
    return store_run(s, st, bad);
}

int store_enquiries(struct store *s, struct stored_enquiry **out, size_t *count) {
    sqlite3_stmt *st = store_statement(s, ALL_ENQUIRIES);
    struct stored_list list = {.size = sizeof(struct stored_enquiry)};
    int err = ERR_OK;
    for (struct stored_enquiry *e; (e = store_next_item(s, st, &list, &err)) != NULL;) {
        *e = (struct stored_enquiry){.number = sqlite3_column_int64(st, 0),
                                     .opened_ms = sqlite3_column_int64(st, 1),
                                     .kind = store_column_copy(st, 2),
                                     .car = store_column_copy(st, 3),
                                     .point = store_column_copy(st, 4),
                                     .text = store_column_copy(st, 5),
                                     .answered_ms = sqlite3_column_int64(st, 6),
                                     .outcome = store_column_copy(st, 7),
                                     .answer = store_column_copy(st, 8),
                                     .by_crew = sqlite3_column_int64(st, 9) != 0};
        if (e->kind == NULL || e->car == NULL || e->point == NULL || e->text == NULL ||
            e->outcome == NULL || e->answer == NULL)
            err = ERR_NOMEM;
    }
    if (err != ERR_OK) {
        stored_enquiries_free(list.items, list.used);
        return err;
    }
    *out = list.items;
    *count = list.used;
    return ERR_OK;
}

int64_t stored_enquiry_car(const struct stored_enquiry *enquiry) {
    int64_t car = 0;
    (void)decimal_parse_whole(enquiry->car, 1, NUMBER_MAX, &car);
    return car;
}

void stored_enquiries_free(struct stored_enquiry *list, size_t count) {
    for (size_t i = 0; i < count; i++) {
        free(list[i].kind);
        free(list[i].car);
        free(list[i].point);
        free(list[i].text);
        free(list[i].outcome);
        free(list[i].answer);
    }
    free(list);
}
