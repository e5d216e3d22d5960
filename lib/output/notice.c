/* SPDX-License-Identifier: MIT */
#include "output/notice.h"

#include <jansson.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "format/json_write.h"
#include "output/output.h"
#include "scoring/standings.h"

/* Sets a member; takes the value, also on failure. */
static void set(json_t *object, const char *key, json_t *value, int *err) {
    if (json_object_set_new(object, key, value) != 0)
        *err = ERR_NOMEM;
}

static char *canonical(const json_t *value) {
    return json_dumps(value, JSON_COMPACT | JSON_SORT_KEYS);
}

/* A table as in the API's answer, without its head: the list, or the groups. */
static void add_table(json_t *content, const struct scores *scores, enum standings_by by,
                      int *err) {
    static const char *const members[] = {"groups", "standings", "unplaced"};
    const struct output_head head = {"provisional", 0, NULL};
    struct standings *st = NULL;
    struct textbuf b = {0};
    int found = standings_new(scores, by, &st);
    if (found == ERR_UNKNOWN)
        return; /* no categories, groups or teams */
    if (found != ERR_OK) {
        *err = found;
        return;
    }
    output_standings_json(&b, st, &head);
    json_t *answer = b.failed ? NULL : json_loadb(b.bytes, b.len, 0, NULL);
    json_t *table = answer == NULL ? NULL : json_object();
    if (table == NULL)
        *err = ERR_NOMEM;
    for (size_t i = 0; table != NULL && i < sizeof members / sizeof members[0]; i++) {
        json_t *member = json_object_get(answer, members[i]);
        if (member != NULL)
            set(table, members[i], json_incref(member), err);
    }
    set(content, by_word(by), table, err);
    json_decref(answer);
    standings_free(st);
    textbuf_clear(&b);
}

static int by_order(const void *a, const void *b) {
    const struct decision *x = ((const struct listed_decision *)a)->decision;
    const struct decision *y = ((const struct listed_decision *)b)->decision;
    return decision_before(x, y) ? -1 : decision_before(y, x);
}

static json_t *decision_object(const struct listed_decision *listed, int *err) {
    const struct decision *d = listed->decision;
    json_t *object = json_object();
    for (int i = 0; i < DECISION_FIELD_COUNT; i++) {
        const char *text = i == DECISION_ID ? d->id : d->text.field[i];
        if (*text != '\0')
            set(object, decision_field_names[i], json_string(text), err);
    }
    set(object, "holds", json_boolean(listed->holds), err);
    return object;
}

/* Every decision, also those that were revoked, in the contract's order. */
static void add_decisions(json_t *content, const struct decision_list *decisions, int *err) {
    size_t count = (size_t)decisions->count;
    struct listed_decision *list = calloc(count + 1, sizeof *list);
    json_t *array = json_array();
    if (list == NULL || array == NULL)
        *err = ERR_NOMEM;
    for (size_t i = 0; *err == ERR_OK && i < count; i++)
        list[i] = decisions->list[i];
    if (*err == ERR_OK && count > 1)
        qsort(list, count, sizeof *list, by_order);
    for (size_t i = 0; *err == ERR_OK && i < count; i++) {
        if (json_array_append_new(array, decision_object(&list[i], err)) != 0)
            *err = ERR_NOMEM;
    }
    set(content, "decisions", array, err);
    free(list);
}

/* ---- differences ---- */

static const char *const compared[] = {"position", "class_position", "fails", "penalty", "status"};

static json_t *row_of(const json_t *table, json_int_t car) {
    static const char *const lists[] = {"standings", "unplaced"};
    for (size_t l = 0; l < 2; l++) {
        size_t i;
        json_t *row;
        json_array_foreach(json_object_get(table, lists[l]), i, row) {
            if (json_integer_value(json_object_get(row, "car")) == car)
                return row;
        }
    }
    return NULL;
}

/* The members of a row that are compared; null where the car is not in the table. */
static json_t *compared_of(const json_t *row, int *err) {
    if (row == NULL)
        return json_null();
    json_t *object = json_object();
    for (size_t i = 0; i < sizeof compared / sizeof compared[0]; i++)
        set(object, compared[i], json_incref(json_object_get(row, compared[i])), err);
    return object;
}

static void add_difference(json_t *array, const json_t *old, const json_t *row, json_int_t car,
                           int *err) {
    json_t *before = compared_of(old, err);
    json_t *after = compared_of(row, err);
    if (json_equal(before, after)) {
        json_decref(before);
        json_decref(after);
        return;
    }
    json_t *object = json_object();
    set(object, "car", json_integer(car), err);
    set(object, "before", before, err);
    set(object, "after", after, err);
    if (json_array_append_new(array, object) != 0)
        *err = ERR_NOMEM;
}

/* Cars that have another row in the other table, or none. */
static void add_differences(json_t *content, const char *superseded, int *err) {
    static const char *const lists[] = {"standings", "unplaced"};
    json_t *old = json_loads(superseded, JSON_REJECT_DUPLICATES, NULL);
    const json_t *before = json_object_get(old, "overall");
    const json_t *after = json_object_get(content, "overall");
    json_t *array = json_array();
    if (before == NULL)
        *err = *err == ERR_OK ? ERR_INPUT : *err;
    for (size_t l = 0; *err == ERR_OK && l < 4; l++) {
        size_t i;
        json_t *row;
        /* First those that are there now, then those that no longer are. */
        json_array_foreach(json_object_get(l < 2 ? after : before, lists[l % 2]), i, row) {
            json_int_t car = json_integer_value(json_object_get(row, "car"));
            if (l < 2)
                add_difference(array, row_of(before, car), row, car, err);
            else if (row_of(after, car) == NULL)
                add_difference(array, row, NULL, car, err);
        }
    }
    set(content, "differences", array, err);
    json_decref(old);
}

/* ---- content ---- */

static void add_head(json_t *content, const struct notice_head *head, int *err) {
    set(content, "number", json_integer(head->number), err);
    set(content, "kind", json_string(head->kind), err);
    set(content, "title", json_string(head->title), err);
    set(content, "text", json_string(head->text), err);
    set(content, "event", json_string(head->event), err);
    set(content, "name", json_string(head->name), err);
    set(content, "posted", json_string(head->posted), err);
    set(content, "protest_until",
        head->protest_until == NULL ? json_null() : json_string(head->protest_until), err);
    set(content, "supersedes", head->supersedes == 0 ? json_null() : json_integer(head->supersedes),
        err);
    set(content, "revision", json_integer(head->revision), err);
}

int notice_content(const struct notice_head *head, const struct scores *scores,
                   const char *superseded, char **out) {
    static const enum standings_by tables[] = {BY_OVERALL, BY_CLASS, BY_CATEGORY, BY_GROUP,
                                               BY_TEAM};
    json_t *content = json_object();
    int err = content == NULL ? ERR_NOMEM : ERR_OK;
    *out = NULL;
    if (err == ERR_OK)
        add_head(content, head, &err);
    for (size_t i = 0; err == ERR_OK && scores != NULL && i < sizeof tables / sizeof tables[0]; i++)
        add_table(content, scores, tables[i], &err);
    if (err == ERR_OK && scores != NULL)
        add_decisions(content, &scores->event->decisions, &err);
    if (err == ERR_OK && scores != NULL && superseded != NULL)
        add_differences(content, superseded, &err);
    if (err == ERR_OK) {
        *out = canonical(content);
        err = *out == NULL ? ERR_NOMEM : ERR_OK;
    }
    json_decref(content);
    return err;
}

/* ---- documents ---- */

void seal_write_json(struct textbuf *b, const struct seal *seal) {
    json_member_hex(b, "hash", seal->hash, sizeof seal->hash);
    json_member_hex(b, "signature", seal->signature, sizeof seal->signature);
    json_member_hex(b, "signer", seal->signer, sizeof seal->signer);
}

void notice_write_document(struct textbuf *b, const char *content, const struct seal *seal) {
    json_open_object(b);
    json_key(b, "content");
    json_write_raw(b, content, strlen(content));
    seal_write_json(b, seal);
    json_close_document(b);
}

static bool read_hex(const json_t *document, const char *name, unsigned char *out, size_t len) {
    const char *hex = json_string_value(json_object_get(document, name));
    size_t got = 0;
    return hex != NULL && strlen(hex) == 2 * len &&
           sodium_hex2bin(out, len, hex, 2 * len, NULL, &got, NULL) == 0 && got == len;
}

static void write_about(struct textbuf *about, const json_t *content) {
    const char *kind = json_string_value(json_object_get(content, "kind"));
    const char *event = json_string_value(json_object_get(content, "event"));
    const char *posted = json_string_value(json_object_get(content, "posted"));
    const char *title = json_string_value(json_object_get(content, "title"));
    struct textbuf line = {0};
    textbuf_printf(&line, "notice %lld of %s, %s, posted %s: %s",
                   (long long)json_integer_value(json_object_get(content, "number")),
                   event == NULL ? "?" : event, kind == NULL ? "?" : kind,
                   posted == NULL ? "?" : posted, title == NULL ? "?" : title);
    textbuf_plain(about, textbuf_text(&line));
    about->failed = about->failed || line.failed;
    textbuf_clear(&line);
}

int notice_check(const char *text, size_t len, unsigned char signer[SEAL_KEY_LEN],
                 struct textbuf *about) {
    struct seal seal = {0};
    json_error_t error;
    json_t *document = json_loadb(text, len, JSON_REJECT_DUPLICATES, &error);
    const json_t *content = json_object_get(document, "content");
    int err = ERR_INPUT;
    if (json_is_object(content) && read_hex(document, "hash", seal.hash, sizeof seal.hash) &&
        read_hex(document, "signature", seal.signature, sizeof seal.signature) &&
        read_hex(document, "signer", seal.signer, sizeof seal.signer)) {
        char *bytes = canonical(content);
        if (bytes == NULL)
            err = ERR_NOMEM;
        else
            err = seal_is_good(&seal, bytes, strlen(bytes)) ? ERR_OK : ERR_CONFLICT;
        free(bytes);
        memcpy(signer, seal.signer, sizeof seal.signer);
    }
    if (err == ERR_INPUT)
        textbuf_puts(about, "this is no notice with a seal");
    else if (err == ERR_CONFLICT)
        textbuf_puts(about, "the seal is not that of what it says: it was changed");
    else if (err == ERR_OK)
        write_about(about, content);
    json_decref(document);
    return err == ERR_OK && about->failed ? ERR_NOMEM : err;
}
