/* SPDX-License-Identifier: MIT */
/* The event read back: its documents, readings and decisions. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "store/store_private.h"
#include "store/stored_documents.h"

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
    damaged_facts_add(&s->unreadable, table, sqlite3_column_int64(st, columns + 1),
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
        text.from_desk = reading_names_desk(text.extras);
        enum fact_result result =
            code == ERR_OK ? readings_add(model->readings, &text, &why, NULL) : FACT_REFUSED;
        extras_clear(&extras);
        if (result == FACT_DUPLICATE)
            textbuf_puts(&why, "the same reading is there twice");
        if (result == FACT_NOMEM || code == ERR_NOMEM)
            err = ERR_NOMEM;
        else if (result != FACT_ADDED)
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
        enum fact_result result =
            code == ERR_OK ? decisions_add(model->decisions, &text, &why, NULL) : FACT_REFUSED;
        extras_clear(&extras);
        if (result == FACT_DUPLICATE)
            textbuf_puts(&why, "the same decision is there twice");
        if (result == FACT_NOMEM || code == ERR_NOMEM)
            err = ERR_NOMEM;
        else if (result != FACT_ADDED)
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
    damaged_facts_clear(&s->unreadable);
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
