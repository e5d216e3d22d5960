/* SPDX-License-Identifier: MIT */
/* Adding facts to the store, and reading them back. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "err.h"
#include "problem.h"
#include "store_private.h"

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
        *key = (struct stored_key){
            .id = sqlite3_column_int64(st, 0),
            .organiser = strcmp((const char *)sqlite3_column_text(st, 2), "organiser") == 0,
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

/* Extra columns back from JSON; a list in `first` of at most `room` places. */
static json_t *load_extras(sqlite3_stmt *st, int column, struct extra *list, size_t room,
                           struct extra **first) {
    *first = NULL;
    if (sqlite3_column_type(st, column) == SQLITE_NULL)
        return NULL;
    json_t *object = json_loads((const char *)sqlite3_column_text(st, column), 0, NULL);
    const char *key;
    json_t *value;
    size_t count = 0;
    json_object_foreach(object, key, value) {
        if (count == room)
            break;
        list[count] = (struct extra){key, json_string_value(value), NULL};
        if (count > 0)
            list[count - 1].next = &list[count];
        count++;
    }
    if (count > 0)
        *first = list;
    return object;
}

enum { EXTRAS_ROOM = 256 };

/* What was accepted once must be accepted again; where it is not, the file is damaged. */
static int stored_wrong(struct store *s, const char *what, const char *why) {
    textbuf_reset(&s->message);
    textbuf_printf(&s->message, "the event file holds a %s that does not read: %s", what, why);
    return ERR_INPUT;
}

static int load_readings(struct store *s, struct event *event) {
    sqlite3_stmt *st = store_statement(s, ALL_READINGS);
    struct textbuf reason = {0};
    struct extra extras[EXTRAS_ROOM];
    int err = ERR_OK;
    while (store_next_row(s, st, &err)) {
        struct reading_text text;
        for (int i = 0; i < READING_FIELD_COUNT; i++)
            text.field[i] = (const char *)sqlite3_column_text(st, i);
        json_t *object = load_extras(st, READING_FIELD_COUNT, extras, EXTRAS_ROOM, &text.extras);
        enum reading_result result = readings_add(event->readings, &text, &reason, NULL);
        json_decref(object);
        if (result == READING_NOMEM)
            err = ERR_NOMEM;
        else if (result == READING_REFUSED)
            textbuf_reset(&reason); /* the route has changed since; the fact stays in the file */
    }
    textbuf_clear(&reason);
    return err;
}

static int load_decisions(struct store *s, struct event *event) {
    sqlite3_stmt *st = store_statement(s, ALL_DECISIONS);
    struct textbuf reason = {0};
    struct extra extras[EXTRAS_ROOM];
    int err = ERR_OK;
    while (store_next_row(s, st, &err)) {
        struct decision_text text;
        for (int i = 0; i < DECISION_FIELD_COUNT; i++)
            text.field[i] = (const char *)sqlite3_column_text(st, i);
        json_t *object = load_extras(st, DECISION_FIELD_COUNT, extras, EXTRAS_ROOM, &text.extras);
        enum decision_result result = decisions_add(event->decisions, &text, &reason, NULL);
        json_decref(object);
        if (result == DECISION_NOMEM)
            err = ERR_NOMEM;
        else if (result == DECISION_REFUSED)
            textbuf_reset(&reason);
    }
    if (err == ERR_OK && decisions_settle(event->decisions, "decisions", NULL) == ERR_NOMEM)
        err = ERR_NOMEM;
    textbuf_clear(&reason);
    return err;
}

int store_load_event(struct store *s, struct event **out) {
    struct problems problems = {0};
    struct event *event = NULL;
    char *texts[3] = {NULL, NULL, NULL};
    struct event_files files = {0};
    *out = NULL;
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
        err = event_read(&files, &problems, &event);
    if (err == ERR_INPUT && problems.count > 0)
        err = stored_wrong(s, "document", problems.list[0].text);
    if (err == ERR_UNKNOWN)
        err = stored_wrong(s, "document", "it is missing");
    if (err == ERR_OK)
        err = load_readings(s, event);
    if (err == ERR_OK)
        err = load_decisions(s, event);
    store_read_end(s, begun);
    if (err == ERR_OK)
        err = event_settle(event);
    for (int i = 0; i < 3; i++)
        free(texts[i]);
    problems_clear(&problems);
    if (err == ERR_OK)
        *out = event;
    else
        event_free(event);
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
