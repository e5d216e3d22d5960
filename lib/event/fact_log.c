/* SPDX-License-Identifier: MIT */
#include "event/fact_log.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "base/textbuf.h"

int fact_log_init(struct fact_log *log, const struct fact_type *type) {
    *log = (struct fact_log){.type = type, .arena = arena_new()};
    return log->arena == NULL ? ERR_NOMEM : ERR_OK;
}

void fact_log_clear(struct fact_log *log) {
    strmap_clear(&log->by_id);
    strmap_clear(&log->shared);
    free(log->shared_list);
    arena_free(log->arena);
    *log = (struct fact_log){0};
}

int fact_log_find(const struct fact_log *log, const char *id) {
    return strmap_get(&log->by_id, id);
}

enum fact_result fact_log_repeat(const struct fact_log *log, const char *id,
                                 const char *const *fields, const char *const *known,
                                 struct textbuf *reason) {
    if (fact_same(fields, known, (size_t)log->type->fields - 1))
        return FACT_DUPLICATE;
    textbuf_printf(reason, "id “%s” is there already with other content", id);
    return FACT_REFUSED;
}

/* A text that many facts share, kept once. NULL when memory is out. */
static const char *shared_text(struct fact_log *log, const char *text) {
    int32_t place = strmap_get(&log->shared, text);
    if (place >= 0)
        return log->shared_list[place];
    const char **list =
        array_reserve(log->shared_list, &log->shared_cap, log->shared.count + 1, sizeof *list);
    if (list == NULL)
        return NULL;
    log->shared_list = list;
    char *copy = arena_text(log->arena, text, strlen(text));
    int32_t next = (int32_t)log->shared.count;
    if (copy == NULL || strmap_put(&log->shared, copy, next) != ERR_OK)
        return NULL;
    list[next] = copy;
    return copy;
}

static int keep_extras(struct arena *arena, const struct extra *from, struct extra **to) {
    for (*to = NULL; from != NULL; from = from->next) {
        struct extra *copy = arena_alloc(arena, sizeof *copy);
        if (copy == NULL)
            return ERR_NOMEM;
        copy->name = arena_text(arena, from->name, strlen(from->name));
        copy->value = arena_text(arena, from->value, strlen(from->value));
        if (copy->name == NULL || copy->value == NULL)
            return ERR_NOMEM;
        *to = copy;
        to = &copy->next;
    }
    return ERR_OK;
}

int fact_log_keep(struct fact_log *log, const char *const *fields, const struct extra *others,
                  const char *id, const char **to, struct extra **extras) {
    int last = log->type->fields - 1;
    for (int i = 0; i < last; i++) {
        const char *field = fields[i];
        if (*field == '\0') /* most are: they share one constant */
            to[i] = "";
        else if ((log->type->shared & 1u << i) != 0)
            to[i] = shared_text(log, field);
        else
            to[i] = arena_text(log->arena, field, strlen(field));
        if (to[i] == NULL)
            return ERR_NOMEM;
    }
    to[last] = *fields[last] == '\0' ? "" : id;
    return keep_extras(log->arena, others, extras);
}

int fact_log_enter(struct fact_log *log, const char *id) {
    if (strmap_put(&log->by_id, id, (int32_t)log->count) != ERR_OK)
        return ERR_NOMEM;
    log->count++;
    return ERR_OK;
}

/* Allocates in advance what the rows take: a record and an id each, and at most their text. */
static int reserve_rows(struct fact_log *log, const char *text, size_t len) {
    size_t rows = 1;
    const char *end = text + len;
    for (const char *p = text; p < end && (p = memchr(p, '\n', (size_t)(end - p))) != NULL; p++)
        rows++;
    arena_reserve(log->arena, rows * log->type->record + len);
    return strmap_reserve(&log->by_id, rows);
}

/* Adds the row that the table stands at. */
static int add_row(struct fact_log *log, struct csv_columns *table, fact_adder add, void *owner,
                   struct textbuf *reason, struct problems *problems) {
    const char *fields[FACT_FIELDS_MAX];
    struct extra *extras = NULL;
    for (int i = 0; i < log->type->fields; i++)
        fields[i] = csv_columns_field(table, (size_t)i);
    int err = csv_columns_extras(table, &extras);
    if (err != ERR_OK)
        return err;
    textbuf_reset(reason);
    enum fact_result result = add(owner, fields, extras, table->csv.line, reason);
    if (result == FACT_REFUSED)
        problems_add(problems, log->type->wrong, table->file, table->csv.line, "%s",
                     textbuf_text(reason));
    return result == FACT_NOMEM ? ERR_NOMEM : ERR_OK;
}

int fact_log_read(struct fact_log *log, const char *file, const char *text, size_t len,
                  fact_adder add, void *owner, struct problems *problems) {
    const struct fact_type *type = log->type;
    struct column columns[FACT_FIELDS_MAX];
    struct csv_columns table;
    struct textbuf reason = {0};
    for (int i = 0; i < type->fields; i++)
        columns[i] = (struct column){type->names[i], i < type->required};
    int err = csv_columns_open(&table, file, text, len, columns, (size_t)type->fields, log->arena,
                               problems);
    if (err == ERR_OK)
        err = reserve_rows(log, text, len);
    while (err == ERR_OK) {
        enum csv_result row = csv_columns_next(&table);
        if (row == CSV_END)
            break;
        if (row == CSV_BAD)
            problems_add(problems, type->wrong, file, table.csv.line, "%s", table.csv.wrong);
        else
            err =
                row == CSV_NOMEM ? ERR_NOMEM : add_row(log, &table, add, owner, &reason, problems);
    }
    if (reason.failed || problems_out_of_memory(problems))
        err = ERR_NOMEM;
    textbuf_clear(&reason);
    csv_columns_close(&table);
    return err;
}
