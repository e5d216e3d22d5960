/* SPDX-License-Identifier: MIT */
/* Readings, decisions, revisions and epochs, added; the last of the last two. */
#include <jansson.h>
#include <stdlib.h>

#include "base/err.h"
#include "store/store_private.h"

/* Extra columns as a JSON object; NULL where there are none. The caller frees. */
static int extras_text(const struct extra *extras, char **out) {
    *out = NULL;
    if (extras == NULL)
        return ERR_OK;
    json_t *object = json_object();
    int bad = object == NULL;
    for (; extras != NULL && !bad; extras = extras->next)
        bad = json_object_set_new(object, extras->name, json_string(extras->value));
    if (!bad)
        *out = json_dumps(object, JSON_COMPACT);
    json_decref(object);
    return *out == NULL ? ERR_NOMEM : ERR_OK;
}

int store_add_reading(struct store *s, const struct reading *reading, int64_t upload_id) {
    static const char *const names[READING_HASHED] = {
        ":point",   ":car",     ":time",     ":elapsed", ":faults",
        ":made_at", ":made_by", ":replaces", ":void",    ":reason"};
    sqlite3_stmt *st = store_statement(s, ADD_READING);
    char *extras = NULL;
    int bad = 0;
    int err = extras_text(reading->text.extras, &extras);
    if (err != ERR_OK)
        return err;
    for (int i = 0; i < READING_HASHED; i++)
        bind_text(st, names[i], reading->text.field[i], &bad);
    bind_text(st, ":id", reading->id, &bad);
    bind_text(st, ":given_id", reading->text.field[READING_ID], &bad);
    bind_text(st, ":extras", extras, &bad);
    bind_int(st, ":upload_id", upload_id, &bad);
    err = store_run(s, st, bad);
    free(extras);
    return err;
}

int store_add_decision(struct store *s, const struct decision *decision, int64_t upload_id) {
    static const char *const names[DECISION_HASHED] = {":kind",   ":car",     ":point",  ":value",
                                                       ":reason", ":made_at", ":made_by"};
    sqlite3_stmt *st = store_statement(s, ADD_DECISION);
    char *extras = NULL;
    int bad = 0;
    int err = extras_text(decision->text.extras, &extras);
    if (err != ERR_OK)
        return err;
    for (int i = 0; i < DECISION_HASHED; i++)
        bind_text(st, names[i], decision->text.field[i], &bad);
    bind_text(st, ":id", decision->id, &bad);
    bind_text(st, ":given_id", decision->text.field[DECISION_ID], &bad);
    bind_text(st, ":extras", extras, &bad);
    bind_int(st, ":upload_id", upload_id, &bad);
    err = store_run(s, st, bad);
    free(extras);
    return err;
}

int store_add_revision(struct store *s, int64_t office, int64_t public_number,
                       int64_t committed_ms) {
    sqlite3_stmt *st = store_statement(s, ADD_REVISION);
    int bad = 0;
    bind_int(st, ":office", office, &bad);
    bind_int(st, ":public", public_number, &bad);
    bind_int(st, ":committed_ms", committed_ms, &bad);
    return store_run(s, st, bad);
}

int store_last_revision(struct store *s, struct stored_revision *out) {
    sqlite3_stmt *st = store_statement(s, LAST_REVISION);
    int err = ERR_OK;
    *out = (struct stored_revision){0};
    while (store_next_row(s, st, &err))
        *out = (struct stored_revision){sqlite3_column_int64(st, 0), sqlite3_column_int64(st, 1),
                                        sqlite3_column_int64(st, 2), sqlite3_column_int64(st, 3)};
    return err;
}

int store_last_epoch(struct store *s, struct store_epoch *out) {
    sqlite3_stmt *st = store_statement(s, LAST_EPOCH);
    int err = ERR_OK;
    *out = (struct store_epoch){.number = 1};
    while (store_next_row(s, st, &err))
        *out = (struct store_epoch){sqlite3_column_int64(st, 0), sqlite3_column_int(st, 1) != 0,
                                    sqlite3_column_int64(st, 2)};
    return err;
}

int store_add_epoch(struct store *s, const struct store_epoch *epoch) {
    sqlite3_stmt *st = store_statement(s, ADD_EPOCH);
    int bad = 0;
    bind_int(st, ":number", epoch->number, &bad);
    bind_text(st, ":state", epoch->standby ? "standby" : "first", &bad);
    bind_int(st, ":made_ms", epoch->made_ms, &bad);
    return store_run(s, st, bad);
}
