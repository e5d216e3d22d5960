/* SPDX-License-Identifier: MIT */
#include "office/numbering.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "format/csv.h"
#include "format/csv_rows.h"
#include "format/json_write.h"

static const char file[] = "entries.csv";

/* A car that is to get its number, and its row. */
struct numbered_row {
    struct numbered_car car;
    size_t row;
};

/* ---- wishes ---- */

/* One of a list: “22”, or with `pair` “22=1”. */
static int set_one(struct numbering_wishes *wishes, const char *key, const char *word,
                   struct textbuf *why) {
    bool pair = strcmp(key, "give") == 0;
    const char *equals = strchr(word, '=');
    struct textbuf left = {0};
    int64_t now = 0;
    int64_t next = 0;
    textbuf_add(&left, word, equals == NULL ? strlen(word) : (size_t)(equals - word));
    int err =
        left.failed ? ERR_NOMEM : decimal_parse_whole(textbuf_text(&left), 1, NUMBER_MAX, &now);
    if (err == ERR_OK && pair)
        err = equals == NULL ? ERR_INPUT : decimal_parse_whole(equals + 1, 1, NUMBER_MAX, &next);
    textbuf_clear(&left);
    if (err == ERR_NOMEM)
        return err;
    if (err != ERR_OK || (!pair && equals != NULL)) {
        textbuf_printf(why,
                       pair ? "give “%s”: write a car's number now and its new one, as 22=1"
                            : "“%s” is no number from 1 to 9999",
                       word);
        return ERR_INPUT;
    }
    if (strcmp(key, "skip") == 0) {
        wishes->skipped[now] = true;
        return ERR_OK;
    }
    int16_t wanted = (int16_t)(pair ? next : now);
    if (wishes->given[now] != 0 && wishes->given[now] != wanted) {
        textbuf_printf(why, "car %d is given two numbers", (int)now);
        return ERR_INPUT;
    }
    wishes->given[now] = wanted;
    return ERR_OK;
}

int numbering_set(struct numbering_wishes *wishes, const char *key, const char *value,
                  struct textbuf *why) {
    static const char between[] = ", \t\r\n";
    int err = ERR_OK;
    if (strcmp(key, "first") == 0) {
        int64_t first = 0;
        if (*value != '\0' && decimal_parse_whole(value, 1, NUMBER_MAX, &first) != ERR_OK) {
            textbuf_printf(why, "the first number “%s” must be from 1 to %d", value, NUMBER_MAX);
            return ERR_INPUT;
        }
        wishes->first = (int)first;
        return ERR_OK;
    }
    if (strcmp(key, "keep") != 0 && strcmp(key, "give") != 0 && strcmp(key, "skip") != 0) {
        textbuf_printf(why, "“%s” is not known", key);
        return ERR_INPUT;
    }
    while (err == ERR_OK && *(value += strspn(value, between)) != '\0') {
        struct textbuf word = {0};
        size_t len = strcspn(value, between);
        textbuf_add(&word, value, len);
        err = word.failed ? ERR_NOMEM : set_one(wishes, key, textbuf_text(&word), why);
        textbuf_clear(&word);
        value += len;
    }
    return err;
}

/* ---- cars ---- */

static int by_age(const void *a, const void *b) {
    const struct numbered_row *one = a;
    const struct numbered_row *other = b;
    if (one->car.by_hand != other->car.by_hand)
        return one->car.by_hand ? 1 : -1;
    if (one->car.year != other->car.year)
        return one->car.year < other->car.year ? -1 : 1;
    int64_t small = one->car.engine_cc < 0 ? INT64_MAX : one->car.engine_cc;
    int64_t large = other->car.engine_cc < 0 ? INT64_MAX : other->car.engine_cc;
    if (small != large)
        return small < large ? -1 : 1;
    return (one->row > other->row) - (one->row < other->row);
}

static int by_new_number(const void *a, const void *b) {
    return ((const struct numbered_car *)a)->number - ((const struct numbered_car *)b)->number;
}

/* Columns that numbering reads. */
struct columns {
    int number, driver, year, engine;
};

static int find_columns(const struct csv_rows *table, struct columns *columns,
                        struct problems *problems) {
    *columns = (struct columns){csv_rows_find(table, "number"), csv_rows_find(table, "driver"),
                                csv_rows_find(table, "year"), csv_rows_find(table, "engine_cc")};
    if (table->too_wide)
        problems_add(problems, PROBLEM_ERROR, file, 0, "has more than %d columns",
                     CSV_ROWS_COLUMNS_MAX);
    if (columns->number < 0 || columns->year < 0)
        problems_add(problems, PROBLEM_ERROR, file, 1, "there is no column “%s”",
                     columns->number < 0 ? "number" : "year");
    for (size_t i = 0; i < table->fault_count; i++)
        problems_add(problems, PROBLEM_ERROR, file, table->faults[i].line, "%s",
                     table->faults[i].why);
    return problems_fatal(problems) ? ERR_INPUT : ERR_OK;
}

/* Reads a row; a wish for its number is taken out of `left`, so that those of no car stay in it.
 */
static int read_car(const struct csv_rows *table, size_t row, const struct columns *columns,
                    struct numbering_wishes *left, struct problems *problems, struct numbering *out,
                    struct numbered_row *out_row) {
    const char *was = csv_rows_cell(table, row, columns->number);
    const char *year_text = csv_rows_cell(table, row, columns->year);
    const char *engine_text = csv_rows_cell(table, row, columns->engine);
    const char *driver = csv_rows_cell(table, row, columns->driver);
    int64_t number = 0;
    int64_t year = 0;
    out_row->row = row;
    out_row->car = (struct numbered_car){.was = arena_text(out->arena, was, strlen(was)),
                                         .driver = arena_text(out->arena, driver, strlen(driver)),
                                         .engine_cc = -1};
    if (out_row->car.was == NULL || out_row->car.driver == NULL)
        return ERR_NOMEM;
    if (*was != '\0' && decimal_parse_whole(was, 1, NUMBER_MAX, &number) != ERR_OK)
        problems_add(problems, PROBLEM_ERROR, file, table->lines[row],
                     "number “%s” must be a whole number from 1 to %d, or empty", was, NUMBER_MAX);
    if (decimal_parse_whole(year_text, 1885, 2100, &year) != ERR_OK)
        problems_add(problems, PROBLEM_ERROR, file, table->lines[row],
                     "year “%s” must be from 1885 to 2100", year_text);
    if (*engine_text != '\0' &&
        decimal_parse_whole(engine_text, 0, 1000000, &out_row->car.engine_cc) != ERR_OK)
        problems_add(problems, PROBLEM_ERROR, file, table->lines[row],
                     "engine_cc “%s” must be whole cubic centimetres", engine_text);
    out_row->car.year = (int)year;
    if (number > 0 && left->given[number] != 0) {
        out_row->car.number = left->given[number];
        out_row->car.by_hand = true;
        left->given[number] = 0;
    }
    return ERR_OK;
}

/* Reports wishes that cannot be granted. */
static void check_wishes(const struct numbering_wishes *wishes, const struct numbering_wishes *left,
                         const struct numbered_row *cars, size_t count, bool *taken,
                         struct problems *problems) {
    for (int i = 1; i <= NUMBER_MAX; i++) {
        if (left->given[i] != 0)
            problems_add(problems, PROBLEM_ERROR, file, 0, "there is no car %d", i);
    }
    for (size_t i = 0; i < count; i++) {
        int number = cars[i].car.number;
        if (!cars[i].car.by_hand)
            continue;
        if (taken[number])
            problems_add(problems, PROBLEM_ERROR, file, 0, "two cars are given number %d", number);
        if (wishes->skipped[number])
            problems_add(problems, PROBLEM_ERROR, file, 0,
                         "number %d is given, and is to be left out", number);
        taken[number] = true;
    }
}

/* Gives numbers to those who have none by hand; `cars` stand by age, those with one at the end. */
static void give_numbers(const struct numbering_wishes *wishes, struct numbered_row *cars,
                         size_t count, const bool *taken, struct problems *problems) {
    int next = wishes->first > 0 ? wishes->first : 1;
    for (size_t i = 0; i < count && !cars[i].car.by_hand; i++) {
        while (next <= NUMBER_MAX && (taken[next] || wishes->skipped[next]))
            next++;
        if (next > NUMBER_MAX) {
            problems_add(problems, PROBLEM_ERROR, file, 0, "there are not enough numbers up to %d",
                         NUMBER_MAX);
            return;
        }
        cars[i].car.number = next++;
    }
}

static int write_list(const struct csv_rows *table, const struct columns *columns,
                      const struct numbered_row *cars, size_t count, struct textbuf *b) {
    int *number_of = calloc(table->rows + 1, sizeof *number_of);
    if (number_of == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < count; i++)
        number_of[cars[i].row] = cars[i].car.number;
    for (size_t row = 0; row < table->rows; row++) {
        for (size_t i = 0; i < table->columns; i++) {
            textbuf_puts(b, i > 0 ? "," : "");
            if (row > 0 && (int)i == columns->number)
                textbuf_int(b, number_of[row]);
            else
                csv_write_field(b, csv_rows_cell(table, row, (int)i));
        }
        textbuf_putc(b, '\n');
    }
    free(number_of);
    return b->failed ? ERR_NOMEM : ERR_OK;
}

static int keep_cars(const struct numbered_row *cars, size_t count, struct numbering *out) {
    out->cars = arena_array(out->arena, count + 1, sizeof *out->cars);
    if (out->cars == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < count; i++)
        out->cars[i] = cars[i].car;
    out->count = count;
    qsort(out->cars, count, sizeof *out->cars, by_new_number);
    return ERR_OK;
}

static int number_cars(const struct csv_rows *table, const struct numbering_wishes *wishes,
                       struct numbering_wishes *left, struct numbered_row *cars,
                       struct problems *problems, struct numbering *out) {
    bool *taken = calloc(NUMBER_MAX + 1, sizeof *taken);
    size_t count = table->rows > 0 ? table->rows - 1 : 0;
    struct columns columns;
    int err = taken == NULL ? ERR_NOMEM : find_columns(table, &columns, problems);
    for (size_t row = 1; err == ERR_OK && row <= count; row++)
        err = read_car(table, row, &columns, left, problems, out, &cars[row - 1]);
    if (err == ERR_OK)
        check_wishes(wishes, left, cars, count, taken, problems);
    if (err == ERR_OK && !problems_fatal(problems)) {
        qsort(cars, count, sizeof *cars, by_age);
        give_numbers(wishes, cars, count, taken, problems);
    }
    if (err == ERR_OK && problems_fatal(problems))
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = keep_cars(cars, count, out);
    if (err == ERR_OK)
        err = write_list(table, &columns, cars, count, &out->text);
    free(taken);
    return err;
}

int numbering_make(const char *text, size_t len, const struct numbering_wishes *wishes,
                   struct problems *problems, struct numbering *out) {
    struct csv_rows table = {0};
    struct numbering_wishes *left = malloc(sizeof *left);
    struct numbered_row *cars = NULL;
    out->arena = arena_new();
    int err =
        out->arena == NULL || left == NULL ? ERR_NOMEM : csv_rows_read(&table, text, len, false);
    if (err == ERR_OK) {
        *left = *wishes;
        cars = calloc(table.rows + 1, sizeof *cars);
        err = cars == NULL ? ERR_NOMEM : number_cars(&table, wishes, left, cars, problems, out);
    }
    free(cars);
    free(left);
    csv_rows_clear(&table);
    return problems_out_of_memory(problems) ? ERR_NOMEM : err;
}

void numbering_clear(struct numbering *numbering) {
    textbuf_clear(&numbering->text);
    arena_free(numbering->arena);
    *numbering = (struct numbering){0};
}

/* ---- out ---- */

void numbering_write_json(struct textbuf *b, const struct numbering *numbering) {
    json_open_array(b);
    for (size_t i = 0; i < numbering->count; i++) {
        const struct numbered_car *car = &numbering->cars[i];
        json_line(b);
        json_open_object(b);
        json_member_int(b, "number", car->number);
        json_member_text(b, "was", car->was);
        json_member_text(b, "driver", car->driver);
        json_member_int(b, "year", car->year);
        if (car->engine_cc < 0)
            json_member_null(b, "engine_cc");
        else
            json_member_int(b, "engine_cc", car->engine_cc);
        json_member_bool(b, "by_hand", car->by_hand);
        json_close_object(b);
    }
    json_close_array(b);
}

void numbering_write_text(struct textbuf *b, const struct numbering *numbering) {
    textbuf_puts(b, "number   was  year      cc  driver\n");
    for (size_t i = 0; i < numbering->count; i++) {
        const struct numbered_car *car = &numbering->cars[i];
        textbuf_printf(b, "%6d %5s  %4d ", car->number, *car->was == '\0' ? "-" : car->was,
                       car->year);
        if (car->engine_cc < 0)
            textbuf_puts(b, "      -  ");
        else
            textbuf_printf(b, "%7" PRId64 "  ", car->engine_cc);
        textbuf_plain(b, car->driver);
        textbuf_puts(b, car->by_hand ? " (by hand)\n" : "\n");
    }
}
