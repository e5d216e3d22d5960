/* SPDX-License-Identifier: MIT */
#include "event/export.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "event/fact.h"
#include "format/csv.h"

/* Names of extra columns, sorted, each once. */
struct names {
    const char **list;
    size_t count;
};

static int by_name(const void *a, const void *b) {
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static int add_names(struct names *names, const struct extra *extras) {
    for (; extras != NULL; extras = extras->next) {
        if (names->count > 0 &&
            bsearch(&extras->name, names->list, names->count, sizeof *names->list, by_name) != NULL)
            continue;
        const char **list = realloc(names->list, (names->count + 1) * sizeof *list);
        if (list == NULL)
            return ERR_NOMEM;
        names->list = list;
        list[names->count++] = extras->name;
        qsort(list, names->count, sizeof *list, by_name);
    }
    return ERR_OK;
}

static void write_header(struct textbuf *b, const char *const *fields, const int *order,
                         size_t count, const struct names *names) {
    for (size_t i = 0; i < count; i++)
        textbuf_printf(b, "%s%s", i > 0 ? "," : "", fields[order[i]]);
    for (size_t i = 0; i < names->count; i++) {
        textbuf_putc(b, ',');
        csv_write_field(b, names->list[i]);
    }
    textbuf_putc(b, '\n');
}

static void write_row(struct textbuf *b, const char *const *fields, const int *order, size_t count,
                      const struct names *names, const struct extra *extras) {
    for (size_t i = 0; i < count; i++) {
        if (i > 0)
            textbuf_putc(b, ',');
        csv_write_field(b, fields[order[i]]);
    }
    for (size_t i = 0; i < names->count; i++) {
        textbuf_putc(b, ',');
        csv_write_field(b, extra_value(extras, names->list[i]));
    }
    textbuf_putc(b, '\n');
}

static int reading_order(const void *a, const void *b) {
    const struct reading *x = *(const struct reading *const *)a;
    const struct reading *y = *(const struct reading *const *)b;
    if (fact_before(x->has_at, x->at, x->id, y->has_at, y->at, y->id))
        return -1;
    return fact_before(y->has_at, y->at, y->id, x->has_at, x->at, x->id);
}

int export_reading_list(const struct reading *const *list, size_t count, struct textbuf *b) {
    static const int order[READING_FIELD_COUNT] = {
        READING_POINT, READING_CAR, READING_TIME,     READING_ELAPSED, READING_FAULTS, READING_ID,
        READING_AT,    READING_BY,  READING_REPLACES, READING_VOID,    READING_REASON};
    struct names names = {0};
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < count; i++)
        err = add_names(&names, list[i]->text.extras);
    if (err == ERR_OK) {
        write_header(b, reading_field_names, order, READING_FIELD_COUNT, &names);
        for (size_t i = 0; i < count; i++)
            write_row(b, list[i]->text.field, order, READING_FIELD_COUNT, &names,
                      list[i]->text.extras);
    }
    free(names.list);
    return b->failed ? ERR_NOMEM : err;
}

static bool is_unassigned(const struct reading *reading) {
    return reading->aside != ASIDE_NOT || reading->other_faults;
}

static int export_those(const struct readings *readings, bool unassigned, struct textbuf *b) {
    size_t all = (size_t)readings_count(readings);
    size_t count = 0;
    const struct reading **list = calloc(all + 1, sizeof *list);
    if (list == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < all; i++) {
        const struct reading *reading = readings_at(readings, (int)i);
        if (is_unassigned(reading) == unassigned)
            list[count++] = reading;
    }
    qsort(list, count, sizeof *list, reading_order);
    int err = unassigned && count == 0 ? ERR_OK : export_reading_list(list, count, b);
    free(list);
    return err;
}

int export_readings(const struct readings *readings, struct textbuf *b) {
    return export_those(readings, false, b);
}

int export_unassigned(const struct readings *readings, struct textbuf *b) {
    return export_those(readings, true, b);
}

static int decision_order(const void *a, const void *b) {
    const struct decision *x = *(const struct decision *const *)a;
    const struct decision *y = *(const struct decision *const *)b;
    if (decision_before(x, y))
        return -1;
    return decision_before(y, x);
}

int export_decision_list(const struct decision *const *list, size_t count, struct textbuf *b) {
    static const int order[DECISION_FIELD_COUNT] = {DECISION_KIND,  DECISION_CAR,    DECISION_POINT,
                                                    DECISION_VALUE, DECISION_REASON, DECISION_ID,
                                                    DECISION_AT,    DECISION_BY};
    struct names names = {0};
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < count; i++)
        err = add_names(&names, list[i]->text.extras);
    if (err == ERR_OK) {
        write_header(b, decision_field_names, order, DECISION_FIELD_COUNT, &names);
        for (size_t i = 0; i < count; i++)
            write_row(b, list[i]->text.field, order, DECISION_FIELD_COUNT, &names,
                      list[i]->text.extras);
    }
    free(names.list);
    return b->failed ? ERR_NOMEM : err;
}

int export_decisions(const struct decisions *decisions, struct textbuf *b) {
    size_t count = (size_t)decisions_count(decisions);
    const struct decision **list = calloc(count + 1, sizeof *list);
    if (list == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < count; i++)
        list[i] = decisions_at(decisions, (int)i);
    qsort(list, count, sizeof *list, decision_order);
    int err = export_decision_list(list, count, b);
    free(list);
    return err;
}
