/* SPDX-License-Identifier: MIT */
#include "live/upload.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "base/problem.h"
#include "format/json_read.h"
#include "format/media_type.h"
#include "system/hard_limits.h"

enum media media_of(const char *content_type) {
    static const struct {
        const char *name;
        enum media media;
    } types[] = {{"application/json", MEDIA_JSON},
                 {"application/x-ndjson", MEDIA_NDJSON},
                 {"application/ndjson", MEDIA_NDJSON},
                 {"text/csv", MEDIA_CSV}};
    for (size_t i = 0; i < sizeof types / sizeof types[0]; i++) {
        if (media_type_is(content_type, types[i].name))
            return types[i].media;
    }
    return MEDIA_UNKNOWN;
}

struct taking {
    struct upload *upload;
    const char *const *names;
    size_t name_count;
    const struct upload_watch *watch;
};

/* Before each row: whether another is taken. A few are, whoever waits. */
static int may_go_on(const struct taking *t) {
    size_t count = t->upload->count;
    if (count == LIMIT_ROWS)
        return ERR_RANGE;
    return t->watch != NULL && count > 0 && count % UPLOAD_STRIDE == 0 &&
                   t->watch->given_up(t->watch->context)
               ? ERR_BUSY
               : ERR_OK;
}

static struct upload_row *new_row(const struct taking *t, long line) {
    struct upload *u = t->upload;
    struct upload_row *rows = array_reserve(u->rows, &u->cap, u->count + 1, sizeof *rows);
    if (rows == NULL)
        return NULL;
    u->rows = rows;
    const char **fields = arena_array(u->arena, t->name_count, sizeof *fields);
    if (fields == NULL)
        return NULL;
    for (size_t i = 0; i < t->name_count; i++)
        fields[i] = "";
    rows[u->count] = (struct upload_row){.fields = fields, .line = line};
    return &rows[u->count++];
}

/* {"cone": 2, "line": 1} as the CSV writes it. */
static const char *fault_list(struct arena *arena, const json_t *object) {
    struct textbuf b = {0};
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value) {
        textbuf_printf(&b, "%s%s=%s", b.len > 0 ? ";" : "", key,
                       json_is_number_text(value) ? json_string_value(value) + 1 : "?");
    }
    const char *copy = b.failed ? NULL : arena_text(arena, textbuf_text(&b), b.len);
    textbuf_clear(&b);
    return copy;
}

/* A value as the CSV would have it: texts as they are, numbers by their digits. */
static const char *value_text(struct arena *arena, const json_t *value, const char **wrong) {
    if (json_is_null(value))
        return "";
    if (json_is_boolean(value))
        return json_is_true(value) ? "yes" : "";
    if (json_is_object(value))
        return fault_list(arena, value);
    if (!json_is_string(value)) {
        *wrong = "a field is neither a text nor a number";
        return "";
    }
    const char *text = json_string_value(value);
    return json_is_number_text(value) ? arena_text(arena, text + 1, strlen(text + 1))
                                      : arena_text(arena, text, strlen(text));
}

static const char too_many_members[] = "it has more than 64 members that are not known";

static_assert(EXTRAS_MAX == 64, "the sentence names the number");

static int take_object(const struct taking *t, const json_t *object, long line) {
    struct upload_row *row = new_row(t, line);
    if (row == NULL)
        return ERR_NOMEM;
    if (!json_is_object(object)) {
        row->wrong = "it is no JSON object";
        return ERR_OK;
    }
    if (json_object_size(object) > t->name_count + EXTRAS_MAX) {
        row->wrong = too_many_members;
        return ERR_OK;
    }
    struct extra **last = &row->extras;
    int extras = 0;
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value) {
        const char *text = value_text(t->upload->arena, value, &row->wrong);
        if (text == NULL)
            return ERR_NOMEM;
        size_t i = 0;
        while (i < t->name_count && strcmp(t->names[i], key) != 0)
            i++;
        if (i < t->name_count) {
            row->fields[i] = text;
            continue;
        }
        if (++extras > EXTRAS_MAX) {
            row->wrong = too_many_members;
            break;
        }
        struct extra *extra = arena_alloc(t->upload->arena, sizeof *extra);
        const char *name = arena_text(t->upload->arena, key, strlen(key));
        if (extra == NULL || name == NULL)
            return ERR_NOMEM;
        *extra = (struct extra){name, text, NULL};
        *last = extra;
        last = &extra->next;
    }
    return ERR_OK;
}

static void first_problem(const struct problems *problems, struct textbuf *why) {
    if (problems->count > 0)
        textbuf_printf(why, "%s: %s", problems->list[0].place, problems->list[0].text);
}

static int parse_json(const struct taking *t, const char *body, size_t len, struct textbuf *why) {
    struct problems problems = {0};
    struct json_reader reader = {.file = "body", .arena = t->upload->arena, .problems = &problems};
    json_t *root = NULL;
    int err = json_read_text(&reader, body, len, &root);
    if (err == ERR_INPUT) {
        first_problem(&problems, why);
    } else if (err == ERR_OK && !json_is_array(root)) {
        textbuf_puts(why, "the body must be a JSON array");
        err = ERR_INPUT;
    }
    for (size_t i = 0; err == ERR_OK && i < json_array_size(root); i++) {
        err = may_go_on(t);
        if (err == ERR_OK)
            err = take_object(t, json_array_get(root, i), 0);
    }
    json_decref(root);
    problems_clear(&problems);
    return err;
}

static int take_line(const struct taking *t, const char *text, size_t len, long line,
                     struct json_budget *room, struct textbuf *why) {
    struct problems problems = {0};
    struct json_reader reader = {.file = "body", .arena = t->upload->arena, .problems = &problems};
    json_t *root = NULL;
    int err = json_read_one(&reader, text, len, room, &root);
    if (err == ERR_OK) {
        err = take_object(t, root, line);
    } else if (json_budget_is_spent(room)) {
        textbuf_printf(why,
                       "body:%ld: the lines to here hold more than %d objects and lists, or more "
                       "than %d values",
                       line, JSON_CONTAINERS_MAX, JSON_VALUES_MAX);
    } else if (err == ERR_INPUT) {
        struct upload_row *row = new_row(t, line);
        err = row == NULL ? ERR_NOMEM : ERR_OK;
        if (row != NULL)
            row->wrong = "it is not well-formed JSON";
    }
    json_decref(root);
    problems_clear(&problems);
    return err;
}

/* Each line by itself: one that is broken does not hold up the others. */
static int parse_ndjson(const struct taking *t, const char *body, size_t len, struct textbuf *why) {
    const char *end = body + len;
    struct json_budget room = {0};
    int err = ERR_OK;
    for (long line = 1; err == ERR_OK && body < end; line++) {
        const char *stop = memchr(body, '\n', (size_t)(end - body));
        size_t size = stop == NULL ? (size_t)(end - body) : (size_t)(stop - body);
        if (strspn(body, " \t\r") < size) {
            err = may_go_on(t);
            if (err == ERR_OK)
                err = take_line(t, body, size, line, &room, why);
        }
        body += size + (stop != NULL);
    }
    return err;
}

static int parse_csv(const struct taking *t, const char *body, size_t len, size_t required,
                     struct textbuf *why) {
    struct column columns[CSV_COLUMNS_MAX];
    struct problems problems = {0};
    struct csv_columns table;
    for (size_t i = 0; i < t->name_count; i++)
        columns[i] = (struct column){t->names[i], i < required};
    int err = csv_columns_open(&table, "body", body, len, columns, t->name_count, t->upload->arena,
                               &problems);
    if (err == ERR_INPUT)
        first_problem(&problems, why);
    while (err == ERR_OK) {
        enum csv_result result = csv_columns_next(&table);
        if (result == CSV_END)
            break;
        err = may_go_on(t);
        if (err != ERR_OK)
            break;
        struct upload_row *row = result == CSV_NOMEM ? NULL : new_row(t, table.csv.line);
        if (row == NULL) {
            err = ERR_NOMEM;
            break;
        }
        if (result == CSV_BAD) {
            row->wrong = table.csv.wrong;
            continue;
        }
        for (size_t i = 0; err == ERR_OK && i < t->name_count; i++) {
            const char *field = csv_columns_field(&table, i);
            row->fields[i] = arena_text(t->upload->arena, field, strlen(field));
            if (row->fields[i] == NULL)
                err = ERR_NOMEM;
        }
        if (err == ERR_OK)
            err = csv_columns_extras(&table, &row->extras);
    }
    csv_columns_close(&table);
    problems_clear(&problems);
    return err;
}

int upload_parse(enum media media, const char *body, size_t len, const char *const *names,
                 size_t name_count, size_t required, const struct upload_watch *watch,
                 struct upload *out, struct textbuf *why) {
    struct taking t = {out, names, name_count, watch};
    int err = ERR_INPUT;
    *out = (struct upload){.arena = arena_new()};
    if (out->arena == NULL)
        return ERR_NOMEM;
    switch (media) {
    case MEDIA_JSON:
        err = parse_json(&t, body, len, why);
        break;
    case MEDIA_NDJSON:
        err = parse_ndjson(&t, body, len, why);
        break;
    case MEDIA_CSV:
        err = parse_csv(&t, body, len, required, why);
        break;
    case MEDIA_UNKNOWN:
        break;
    }
    if (err == ERR_RANGE)
        textbuf_printf(why, "more than %d rows in one body", LIMIT_ROWS);
    return why->failed ? ERR_NOMEM : err;
}

int upload_take_in_turn(const struct upload *upload, const struct row_taker *taker) {
    /* Rounds go forward and backward in turn, so that a chain of revokes in either order needs two.
     * No list that a person writes needs more than this. */
    enum { ROUNDS = 16 };
    size_t count = upload->count;
    bool *taken = calloc(count + 1, sizeof *taken);
    size_t left = count;
    int err = taken == NULL ? ERR_NOMEM : ERR_OK;
    for (int round = 1; err == ERR_OK && left > 0; round++) {
        size_t before = left;
        for (size_t i = 0; err == ERR_OK && i < count; i++) {
            size_t row = round % 2 == 1 ? i : count - 1 - i;
            if (taken[row] || (round < ROUNDS && taker->waits(taker->context, &upload->rows[row])))
                continue;
            taken[row] = true;
            left--;
            err = taker->take(taker->context, row);
        }
        if (left == before)
            round = ROUNDS - 1; /* what is left waits for nothing here: the next round takes it */
    }
    free(taken);
    return err;
}

void upload_clear(struct upload *upload) {
    arena_free(upload->arena);
    free(upload->rows);
    *upload = (struct upload){0};
}
