/* SPDX-License-Identifier: MIT */
#include "event/document_changes.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/strmap.h"
#include "base/textbuf.h"
#include "base/utf8.h"
#include "format/csv_rows.h"
#include "format/json_read.h"

enum { SHORT_BYTES = 80 };

/* The lines that are being written. */
struct change_list {
    struct textbuf *lines;
    int count, left_out;
};

/* Begins a line; false where there are enough. */
static bool begin_line(struct change_list *changes) {
    if (changes->count == CHANGE_LINES_MAX) {
        changes->left_out++;
        return false;
    }
    changes->count++;
    return true;
}

static void write_short(struct textbuf *b, const char *text) {
    struct textbuf cut = {0};
    size_t len = utf8_fit(text, SHORT_BYTES);
    textbuf_add(&cut, text, len);
    if (len == 0)
        textbuf_puts(b, "–");
    else
        textbuf_plain(b, textbuf_text(&cut));
    if (text[len] != '\0')
        textbuf_puts(b, "…");
    b->failed = b->failed || cut.failed;
    textbuf_clear(&cut);
}

/* ---- tables ---- */

enum { KEY_COLUMNS = 2 };

/* A table whose rows are found by their key. */
struct keyed {
    struct csv_rows table;
    const char **keys; /* of each row, owned by the table's arena */
    struct strmap by_key;
};

static void keyed_clear(struct keyed *k) {
    strmap_clear(&k->by_key);
    free(k->keys);
    csv_rows_clear(&k->table);
}

/* Names each row by its key: the columns of these names, with a blank between. */
static int name_rows(struct keyed *k, const char *const *key_names) {
    const struct csv_rows *table = &k->table;
    struct textbuf key = {0};
    int err = ERR_OK;
    k->keys = calloc(table->rows + 1, sizeof *k->keys);
    if (k->keys == NULL)
        return ERR_NOMEM;
    for (size_t row = 1; err == ERR_OK && row < table->rows; row++) {
        textbuf_reset(&key);
        for (int i = 0; i < KEY_COLUMNS && key_names[i] != NULL; i++)
            textbuf_printf(&key, "%s%s", i > 0 ? " " : "",
                           csv_rows_cell(table, row, csv_rows_find(table, key_names[i])));
        k->keys[row] = key.failed ? NULL : arena_text(table->arena, textbuf_text(&key), key.len);
        err = k->keys[row] == NULL ? ERR_NOMEM : strmap_put(&k->by_key, k->keys[row], (int)row);
    }
    textbuf_clear(&key);
    return err;
}

static int keyed_read(struct keyed *k, const char *text, const char *const *key_names) {
    int err = csv_rows_read(&k->table, text, strlen(text), false);
    return err == ERR_OK ? name_rows(k, key_names) : err;
}

/* How a table's rows are named. */
struct table_words {
    const char *keys[KEY_COLUMNS + 1];
    const char *car; /* the column that holds the car */
    const char *day; /* the column that holds the day, NULL where there is none */
};

static void write_row_name(struct textbuf *b, const struct csv_rows *table, size_t row,
                           const struct table_words *words) {
    if (words->day != NULL) {
        textbuf_puts(b, "day ");
        write_short(b, csv_rows_cell(table, row, csv_rows_find(table, words->day)));
        textbuf_puts(b, ", ");
    }
    textbuf_puts(b, "car ");
    write_short(b, csv_rows_cell(table, row, csv_rows_find(table, words->car)));
}

/* A row that is in one of the two only. */
static void write_whole_row(struct change_list *changes, const struct csv_rows *table, size_t row,
                            const struct table_words *words, const char *what) {
    const char *sep = ": ";
    if (!begin_line(changes))
        return;
    write_row_name(changes->lines, table, row, words);
    textbuf_printf(changes->lines, " %s", what);
    for (size_t i = 0; i < table->columns; i++) {
        const char *cell = csv_rows_cell(table, row, (int)i);
        bool key = strcmp(table->cells[i], words->keys[0]) == 0 ||
                   (words->keys[1] != NULL && strcmp(table->cells[i], words->keys[1]) == 0);
        if (key || *cell == '\0')
            continue;
        textbuf_puts(changes->lines, sep);
        write_short(changes->lines, cell);
        sep = ", ";
    }
    textbuf_putc(changes->lines, '\n');
}

/* A row that is in both, written where a cell differs; a column that only one has is empty in the
 * other. */
static void write_cells(struct change_list *changes, const struct csv_rows *old, size_t old_row,
                        const struct csv_rows *now, size_t row, const struct table_words *words) {
    bool begun = false;
    for (size_t pass = 0; pass < old->columns + now->columns; pass++) {
        bool own = pass < now->columns;
        const char *name = own ? now->cells[pass] : old->cells[pass - now->columns];
        int new_column = own ? (int)pass : csv_rows_find(now, name);
        if (!own && new_column >= 0)
            continue; /* written already */
        const char *a = csv_rows_cell(old, old_row,
                                      own ? csv_rows_find(old, name) : (int)(pass - now->columns));
        const char *b = csv_rows_cell(now, row, new_column);
        if (strcmp(a, b) == 0)
            continue;
        if (!begun && !begin_line(changes))
            return;
        if (begun)
            textbuf_puts(changes->lines, ", ");
        else
            write_row_name(changes->lines, now, row, words);
        if (!begun)
            textbuf_puts(changes->lines, ": ");
        begun = true;
        write_short(changes->lines, name);
        textbuf_putc(changes->lines, ' ');
        write_short(changes->lines, a);
        textbuf_puts(changes->lines, " → ");
        write_short(changes->lines, b);
    }
    if (begun)
        textbuf_putc(changes->lines, '\n');
}

static bool is_of_car(const struct csv_rows *table, size_t row, const struct table_words *words,
                      const char *car) {
    return *car == '\0' ||
           strcmp(csv_rows_cell(table, row, csv_rows_find(table, words->car)), car) == 0;
}

static int write_tables(struct change_list *changes, const char *before, const char *now,
                        const char *car, const struct table_words *words) {
    struct keyed old = {0};
    struct keyed new = {0};
    const struct csv_rows *a = &old.table;
    const struct csv_rows *b = &new.table;
    int err = keyed_read(&old, before, words->keys);
    if (err == ERR_OK)
        err = keyed_read(&new, now, words->keys);
    for (size_t row = 1; err == ERR_OK && row < b->rows; row++) {
        int there = strmap_get(&old.by_key, new.keys[row]);
        if (!is_of_car(b, row, words, car))
            continue;
        if (there < 0)
            write_whole_row(changes, b, row, words, "is new");
        else
            write_cells(changes, a, (size_t)there, b, row, words);
    }
    for (size_t row = 1; err == ERR_OK && row < a->rows; row++) {
        if (is_of_car(a, row, words, car) && strmap_get(&new.by_key, old.keys[row]) < 0)
            write_whole_row(changes, a, row, words, "is gone");
    }
    keyed_clear(&old);
    keyed_clear(&new);
    return err;
}

/* ---- rules ---- */

static const char *id_of(const json_t *value) {
    return json_string_value(json_object_get(value, "id"));
}

static void write_value(struct textbuf *b, const json_t *value) {
    if (json_is_string(value)) {
        const char *text = json_string_value(value);
        write_short(b, *text == JSON_NUMBER_MARK ? text + 1 : text);
        return;
    }
    char *text = json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY);
    struct textbuf plain = {0};
    /* The library writes our marked numbers as texts that begin with an escaped mark. */
    for (const char *p = text; p != NULL && *p != '\0'; p++) {
        if (strncmp(p, "\"\\u001f", 7) == 0 || strncmp(p, "\"\\u001F", 7) == 0) {
            for (p += 7; *p != '"'; p++)
                textbuf_putc(&plain, *p);
        } else {
            textbuf_putc(&plain, *p);
        }
    }
    if (text == NULL || plain.failed)
        b->failed = true;
    write_short(b, textbuf_text(&plain));
    textbuf_clear(&plain);
    free(text);
}

static void write_change(struct change_list *changes, const char *path, const json_t *a,
                         const json_t *b) {
    if (!begin_line(changes))
        return;
    textbuf_plain(changes->lines, path);
    textbuf_puts(changes->lines, ": ");
    if (a == NULL) {
        textbuf_puts(changes->lines, "new, ");
        write_value(changes->lines, b);
    } else if (b == NULL) {
        textbuf_puts(changes->lines, "gone, was ");
        write_value(changes->lines, a);
    } else {
        write_value(changes->lines, a);
        textbuf_puts(changes->lines, " → ");
        write_value(changes->lines, b);
    }
    textbuf_putc(changes->lines, '\n');
}

static int write_json(struct change_list *changes, const char *path, const json_t *a,
                      const json_t *b);

static int write_member(struct change_list *changes, const char *path, const char *key,
                        const json_t *a, const json_t *b) {
    struct textbuf deeper = {0};
    textbuf_printf(&deeper, "%s%s%s", path, *path != '\0' && *key != '[' ? "." : "", key);
    int err = deeper.failed ? ERR_NOMEM : write_json(changes, textbuf_text(&deeper), a, b);
    textbuf_clear(&deeper);
    return err;
}

static int write_objects(struct change_list *changes, const char *path, const json_t *a,
                         const json_t *b) {
    const char *key;
    json_t *value;
    int err = ERR_OK;
    json_object_foreach((json_t *)b, key, value) {
        if (err == ERR_OK)
            err = write_member(changes, path, key, json_object_get(a, key), value);
    }
    json_object_foreach((json_t *)a, key, value) {
        if (err == ERR_OK && json_object_get(b, key) == NULL)
            err = write_member(changes, path, key, value, NULL);
    }
    return err;
}

static const json_t *with_id(const json_t *list, const char *id) {
    for (size_t i = 0; i < json_array_size(list); i++) {
        const char *own = id_of(json_array_get(list, i));
        if (own != NULL && strcmp(own, id) == 0)
            return json_array_get(list, i);
    }
    return NULL;
}

/* An element of a list, compared with the one of the same id in the other list, or, where it has no
 * id, with the one at the same place.
 *   gone  write it only where the other list has none */
static int write_item(struct change_list *changes, const char *path, const json_t *list,
                      const json_t *other, size_t i, bool gone) {
    const json_t *own = json_array_get(list, i);
    const char *id = id_of(own);
    const json_t *like = id != NULL ? with_id(other, id) : json_array_get(other, i);
    struct textbuf key = {0};
    int err = ERR_OK;
    if (gone && like != NULL)
        return ERR_OK;
    if (id != NULL)
        textbuf_printf(&key, "[%s]", id);
    else
        textbuf_printf(&key, "[%zu]", i);
    if (key.failed)
        err = ERR_NOMEM;
    else
        err = write_member(changes, path, textbuf_text(&key), gone ? own : like, gone ? NULL : own);
    textbuf_clear(&key);
    return err;
}

static int write_lists(struct change_list *changes, const char *path, const json_t *a,
                       const json_t *b) {
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < json_array_size(b); i++)
        err = write_item(changes, path, b, a, i, false);
    for (size_t i = 0; err == ERR_OK && i < json_array_size(a); i++)
        err = write_item(changes, path, a, b, i, true);
    return err;
}

static int write_json(struct change_list *changes, const char *path, const json_t *a,
                      const json_t *b) {
    if (a != NULL && b != NULL && json_equal(a, b))
        return ERR_OK;
    if (json_is_object(a) && json_is_object(b))
        return write_objects(changes, path, a, b);
    if (json_is_array(a) && json_is_array(b))
        return write_lists(changes, path, a, b);
    write_change(changes, path, a, b);
    return ERR_OK;
}

static int write_rules(struct change_list *changes, const char *before, const char *now) {
    struct problems problems = {0};
    struct json_reader reader = {.file = "event.json", .arena = NULL, .problems = &problems};
    json_t *a = NULL;
    json_t *b = NULL;
    int err = json_read_text(&reader, before, strlen(before), &a);
    if (err == ERR_OK)
        err = json_read_text(&reader, now, strlen(now), &b);
    if (err == ERR_OK)
        err = write_json(changes, "", a, b);
    json_decref(a);
    json_decref(b);
    problems_clear(&problems);
    return err == ERR_INPUT ? ERR_OK : err; /* a document that does not read was never stored */
}

int document_changes(enum document document, const char *before, const char *now, const char *car,
                     struct textbuf *lines) {
    static const struct table_words entries = {{"number", NULL}, "number", NULL};
    static const struct table_words starts = {{"day", "car", NULL}, "car", "day"};
    struct change_list changes = {.lines = lines};
    int err = ERR_OK;
    if (before == NULL)
        return ERR_OK;
    if (document != DOCUMENT_RULES)
        err = write_tables(&changes, before, now, car,
                           document == DOCUMENT_STARTS ? &starts : &entries);
    else if (*car == '\0')
        err = write_rules(&changes, before, now);
    if (changes.left_out > 0)
        textbuf_printf(lines, "and %d more\n", changes.left_out);
    return err == ERR_OK && lines->failed ? ERR_NOMEM : err;
}
