/* SPDX-License-Identifier: MIT */
/* Adding facts to the store, and reading them back. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "store/store_private.h"

int store_add_upload(struct store *s, int64_t received_ms, const char *source, int64_t key_id,
                     const char *kind, const char *media_type, const void *body, size_t len,
                     int64_t *id) {
    sqlite3_stmt *st = store_statement(s, ADD_UPLOAD);
    int bad = 0;
    bind_int(st, ":received_ms", received_ms, &bad);
    bind_text(st, ":source", source, &bad);
    if (key_id > 0)
        bind_int(st, ":key_id", key_id, &bad);
    bind_text(st, ":kind", kind, &bad);
    bind_text(st, ":media_type", media_type, &bad);
    bind_blob(st, ":body", body, len, &bad);
    int err = store_run(s, st, bad);
    if (err == ERR_OK && id != NULL)
        *id = sqlite3_last_insert_rowid(s->db);
    return err;
}

int store_add_document(struct store *s, const char *name, int64_t upload_id) {
    sqlite3_stmt *st = store_statement(s, ADD_DOCUMENT);
    int bad = 0;
    bind_text(st, ":name", name, &bad);
    bind_int(st, ":upload_id", upload_id, &bad);
    return store_run(s, st, bad);
}

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

int store_add_key(struct store *s, const unsigned char hash[32], bool organiser, const char *points,
                  const char *label, int64_t created_ms, int64_t *id) {
    sqlite3_stmt *st = store_statement(s, ADD_KEY);
    int bad = 0;
    bind_blob(st, ":hash", hash, 32, &bad);
    bind_text(st, ":role", organiser ? "organiser" : "timekeeper", &bad);
    bind_text(st, ":points", points, &bad);
    bind_text(st, ":label", label, &bad);
    bind_int(st, ":created_ms", created_ms, &bad);
    int err = store_run(s, st, bad);
    if (err == ERR_OK && id != NULL)
        *id = sqlite3_last_insert_rowid(s->db);
    return err;
}

int store_revoke_key(struct store *s, int64_t key_id, int64_t revoked_ms) {
    sqlite3_stmt *st = store_statement(s, ADD_REVOCATION);
    int bad = 0;
    bind_int(st, ":key_id", key_id, &bad);
    bind_int(st, ":revoked_ms", revoked_ms, &bad);
    int err = store_run(s, st, bad);
    if (err == ERR_OK && sqlite3_changes(s->db) == 0)
        err = ERR_UNKNOWN;
    return err;
}

char *store_column_copy(sqlite3_stmt *st, int column) {
    const unsigned char *text = sqlite3_column_text(st, column);
    return strdup(text == NULL ? "" : (const char *)text);
}

bool store_column_is(sqlite3_stmt *st, int column, const char *word) {
    const unsigned char *text = sqlite3_column_text(st, column);
    return text != NULL && strcmp((const char *)text, word) == 0;
}

bool store_next_row(struct store *s, sqlite3_stmt *st, int *err) {
    if (st == NULL) {
        *err = store_failed(s);
        return false;
    }
    if (*err == ERR_OK) {
        int rc = sqlite3_step(st);
        if (rc == SQLITE_ROW)
            return true;
        if (rc != SQLITE_DONE)
            *err = store_failed(s);
    }
    (void)sqlite3_reset(st);
    (void)sqlite3_clear_bindings(st);
    return false;
}

int store_keys(struct store *s, struct stored_key **out, size_t *count) {
    sqlite3_stmt *st = store_statement(s, ALL_KEYS);
    struct stored_key *keys = NULL;
    size_t used = 0;
    int err = ERR_OK;
    while (store_next_row(s, st, &err)) {
        struct stored_key *moved = realloc(keys, (used + 1) * sizeof *keys);
        if (moved == NULL) {
            err = ERR_NOMEM;
            continue;
        }
        keys = moved;
        struct stored_key *key = &keys[used++];
        *key = (struct stored_key){.id = sqlite3_column_int64(st, 0),
                                   .organiser = store_column_is(st, 2, "organiser"),
                                   .points = store_column_copy(st, 3),
                                   .label = store_column_copy(st, 4),
                                   .created_ms = sqlite3_column_int64(st, 5),
                                   .revoked = sqlite3_column_int(st, 6) != 0};
        if (sqlite3_column_bytes(st, 1) == (int)sizeof key->hash)
            memcpy(key->hash, sqlite3_column_blob(st, 1), sizeof key->hash);
        else
            key->revoked = true; /* a damaged hash opens nothing */
        if (key->points == NULL || key->label == NULL)
            err = ERR_NOMEM;
    }
    if (err != ERR_OK) {
        stored_keys_free(keys, used);
        return err;
    }
    *out = keys;
    *count = used;
    return ERR_OK;
}

void stored_keys_free(struct stored_key *keys, size_t count) {
    for (size_t i = 0; i < count; i++) {
        free(keys[i].points);
        free(keys[i].label);
    }
    free(keys);
}

int store_document(struct store *s, const char *name, char **text, size_t *len) {
    sqlite3_stmt *st = store_statement(s, DOCUMENT);
    int bad = 0;
    int err = ERR_OK;
    *text = NULL;
    *len = 0;
    bind_text(st, ":name", name, &bad);
    if (bad != SQLITE_OK)
        return store_failed(s);
    if (!store_next_row(s, st, &err))
        return err == ERR_OK ? ERR_UNKNOWN : err;
    int size = sqlite3_column_bytes(st, 0);
    *text = malloc((size_t)size + 1);
    if (*text == NULL) {
        err = ERR_NOMEM;
    } else {
        if (size > 0)
            memcpy(*text, sqlite3_column_blob(st, 0), (size_t)size);
        (*text)[size] = '\0';
        *len = (size_t)size;
    }
    (void)sqlite3_reset(st);
    (void)sqlite3_clear_bindings(st);
    return err;
}

int store_document_known(struct store *s, const char *name, const char *text, size_t len,
                         bool *known) {
    sqlite3_stmt *st = store_statement(s, DOCUMENT_KNOWN);
    int bad = 0;
    int err = ERR_OK;
    bind_text(st, ":name", name, &bad);
    bind_blob(st, ":body", text, len, &bad);
    if (bad != SQLITE_OK)
        return store_failed(s);
    if (!store_next_row(s, st, &err))
        return err == ERR_OK ? ERR_IO : err;
    *known = sqlite3_column_int64(st, 0) > 0;
    (void)sqlite3_reset(st);
    (void)sqlite3_clear_bindings(st);
    return ERR_OK;
}

/* Extra columns back from JSON, as many as there are: what was accepted once is never cut. */
struct extras {
    json_t *object; /* owns the texts */
    struct extra *list;
};

static int load_extras(sqlite3_stmt *st, int column, struct extras *out, struct extra **first) {
    const char *text = (const char *)sqlite3_column_text(st, column);
    *out = (struct extras){NULL, NULL};
    *first = NULL;
    if (text == NULL)
        return ERR_OK;
    out->object = json_loads(text, 0, NULL);
    if (!json_is_object(out->object))
        return ERR_INPUT;
    size_t count = json_object_size(out->object);
    out->list = calloc(count + 1, sizeof *out->list);
    if (out->list == NULL)
        return ERR_NOMEM;
    const char *key;
    json_t *value;
    struct extra *next = out->list;
    json_object_foreach(out->object, key, value) {
        if (!json_is_string(value))
            return ERR_INPUT;
        *next = (struct extra){key, json_string_value(value), next + 1};
        next++;
    }
    if (count > 0) {
        out->list[count - 1].next = NULL;
        *first = out->list;
    }
    return ERR_OK;
}

static void extras_clear(struct extras *extras) {
    json_decref(extras->object);
    free(extras->list);
}

/* What was accepted once must be accepted again; where it is not, the file is damaged. */
static int stored_wrong(struct store *s, const char *what, const char *why) {
    textbuf_reset(&s->message);
    textbuf_printf(&s->message, "the event file holds a %s that does not read: %s", what, why);
    return ERR_INPUT;
}

/* The fields of the row that a statement stands on, and its extra columns behind them.
 *   why  gets what does not read
 * Returns ERR_OK; ERR_INPUT; ERR_NOMEM. */
static int load_fields(sqlite3_stmt *st, const char **fields, int count, struct extras *extras,
                       struct extra **first, struct textbuf *why) {
    int err = load_extras(st, count, extras, first);
    if (err == ERR_INPUT)
        textbuf_puts(why, "its extra columns are no JSON object of texts");
    for (int i = 0; i < count && err == ERR_OK; i++) {
        fields[i] = (const char *)sqlite3_column_text(st, i);
        if (fields[i] == NULL) {
            textbuf_puts(why, "a field is no text");
            err = ERR_INPUT;
        }
    }
    return err;
}

/* Documents are refused where a fact would lose its place: one that does not read is damaged, or
 * of a newer program. It is counted and named, and the others are read. */
static void leave_out(struct store *s, const char *table, sqlite3_stmt *st, int columns,
                      struct textbuf *why) {
    damage_add(&s->unread, table, sqlite3_column_int64(st, columns + 1),
               (const char *)sqlite3_column_text(st, columns + 2), textbuf_text(why));
    textbuf_reset(why);
}

static int load_readings(struct store *s, struct model *model) {
    sqlite3_stmt *st = store_statement(s, ALL_READINGS);
    struct textbuf why = {0};
    int err = ERR_OK;
    while (store_next_row(s, st, &err)) {
        struct reading_text text = {0};
        struct extras extras;
        int code = load_fields(st, text.field, READING_FIELD_COUNT, &extras, &text.extras, &why);
        enum reading_result result =
            code == ERR_OK ? readings_add(model->readings, &text, &why, NULL) : READING_REFUSED;
        extras_clear(&extras);
        if (result == READING_DUPLICATE)
            textbuf_puts(&why, "the same reading is there twice");
        if (result == READING_NOMEM || code == ERR_NOMEM)
            err = ERR_NOMEM;
        else if (result != READING_ADDED)
            leave_out(s, "reading", st, READING_FIELD_COUNT, &why);
    }
    textbuf_clear(&why);
    return err;
}

static int load_decisions(struct store *s, struct model *model) {
    sqlite3_stmt *st = store_statement(s, ALL_DECISIONS);
    struct textbuf why = {0};
    int err = ERR_OK;
    while (store_next_row(s, st, &err)) {
        struct decision_text text = {0};
        struct extras extras;
        int code = load_fields(st, text.field, DECISION_FIELD_COUNT, &extras, &text.extras, &why);
        enum decision_result result =
            code == ERR_OK ? decisions_add(model->decisions, &text, &why, NULL) : DECISION_REFUSED;
        extras_clear(&extras);
        if (result == DECISION_DUPLICATE)
            textbuf_puts(&why, "the same decision is there twice");
        if (result == DECISION_NOMEM || code == ERR_NOMEM)
            err = ERR_NOMEM;
        else if (result != DECISION_ADDED)
            leave_out(s, "decision", st, DECISION_FIELD_COUNT, &why);
    }
    if (err == ERR_OK && decisions_settle(model->decisions, "decisions", NULL) == ERR_NOMEM)
        err = ERR_NOMEM;
    textbuf_clear(&why);
    return err;
}

int store_load_event(struct store *s, struct model **out) {
    struct problems problems = {0};
    struct model *model = NULL;
    char *texts[3] = {NULL, NULL, NULL};
    struct event_files files = {0};
    *out = NULL;
    damage_clear(&s->unread);
    bool begun = store_read_begin(s);
    int err = store_document(s, "event.json", &texts[0], &files.rules.len);
    if (err == ERR_OK)
        err = store_document(s, "entries.csv", &texts[1], &files.entries.len);
    if (err == ERR_OK) {
        err = store_document(s, "starts.csv", &texts[2], &files.starts.len);
        if (err == ERR_UNKNOWN)
            err = ERR_OK;
    }
    files.rules.text = texts[0];
    files.entries.text = texts[1];
    /* An empty document takes an earlier one out of force. */
    files.starts.text = files.starts.len > 0 ? texts[2] : NULL;
    if (err == ERR_OK)
        err = model_read(&files, &problems, &model);
    if (err == ERR_INPUT && problems.count > 0)
        err = stored_wrong(s, "document", problems.list[0].text);
    if (err == ERR_UNKNOWN)
        err = stored_wrong(s, "document", "it is missing");
    if (err == ERR_OK)
        err = load_readings(s, model);
    if (err == ERR_OK)
        err = load_decisions(s, model);
    store_read_end(s, begun);
    if (err == ERR_OK)
        err = model_settle(model);
    for (int i = 0; i < 3; i++)
        free(texts[i]);
    problems_clear(&problems);
    if (err == ERR_OK)
        *out = model;
    else
        model_free(model);
    return err;
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
