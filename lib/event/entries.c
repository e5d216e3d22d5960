/* SPDX-License-Identifier: MIT */
#include "event/entries.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/cure.h"
#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/utf8.h"
#include "event/car_route.h"

enum column_of_entries {
    COL_NUMBER,
    COL_DRIVER,
    COL_NAVIGATOR,
    COL_MAKE,
    COL_MODEL,
    COL_YEAR,
    COL_ENGINE,
    COL_SUPERCHARGED,
    COL_CATEGORY,
    COL_TEAM,
    COL_COUNTRY,
    COL_CLUB,
    COL_GROUPS,
    COL_COEFFICIENT,
    COL_BORN,
    COL_COUNT
};

static const struct column columns[COL_COUNT] = {
    [COL_NUMBER] = {"number", true},       [COL_DRIVER] = {"driver", true},
    [COL_NAVIGATOR] = {"navigator", true}, [COL_MAKE] = {"make", true},
    [COL_MODEL] = {"model", true},         [COL_YEAR] = {"year", true},
    [COL_ENGINE] = {"engine_cc", false},   [COL_SUPERCHARGED] = {"supercharged", false},
    [COL_CATEGORY] = {"category", false},  [COL_TEAM] = {"team", false},
    [COL_COUNTRY] = {"country", false},    [COL_CLUB] = {"club", false},
    [COL_GROUPS] = {"groups", false},      [COL_COEFFICIENT] = {"coefficient", false},
    [COL_BORN] = {"born", false},
};

static const char file[] = "entries.csv";

/* Of an entry's own coefficient, in thousandths. */
enum { COEFFICIENT_MAX = 99999 };

struct entry_reader {
    const struct rules *rules;
    struct entries *entries;
    struct problems *problems;
    struct csv_columns table;
    size_t cap;
};

static const char *kept(struct entry_reader *r, size_t column) {
    const char *text = csv_columns_field(&r->table, column);
    const char *copy = arena_text(r->entries->arena, text, strlen(text));
    if (copy == NULL)
        r->problems->out_of_memory = true;
    return copy;
}

static void wrong(struct entry_reader *r, const char *what, const char *text) {
    problems_add(r->problems, PROBLEM_ERROR, file, r->table.csv.line, what, text);
}

/* Warns of what is allowed in a text but may be meant to mislead. */
static void warn_of_text(struct entry_reader *r, size_t column) {
    const char *text = csv_columns_field(&r->table, column);
    if (csv_is_formula(text))
        problems_add(r->problems, PROBLEM_WARNING, file, r->table.csv.line,
                     "%s “%s” begins like a formula of a spreadsheet", columns[column].name, text);
    while (*text != '\0') {
        if (utf8_is_bidi_control(utf8_next(&text))) {
            problems_add(r->problems, PROBLEM_WARNING, file, r->table.csv.line,
                         "%s holds a mark that turns the direction of the text behind it",
                         columns[column].name);
            break;
        }
    }
}

static void read_number(struct entry_reader *r, struct entry *e) {
    int64_t value;
    const char *text = csv_columns_field(&r->table, COL_NUMBER);
    if (decimal_parse_whole(text, 1, NUMBER_MAX, &value) != ERR_OK) {
        problems_add(r->problems, PROBLEM_ERROR, file, r->table.csv.line,
                     "number “%s” must be a whole number from 1 to %d", text, NUMBER_MAX);
        r->entries->numbers_unread = true;
        return;
    }
    e->number = (int)value;
    if (r->entries->by_number[value] >= 0)
        problems_add(r->problems, PROBLEM_ERROR, file, r->table.csv.line,
                     "number %s stands twice, first in line %ld", text,
                     r->entries->list[r->entries->by_number[value]].line);
    else
        r->entries->by_number[value] = (int16_t)r->entries->count;
}

static void read_year(struct entry_reader *r, struct entry *e) {
    int64_t value;
    const char *text = csv_columns_field(&r->table, COL_YEAR);
    if (decimal_parse_whole(text, 1885, 2100, &value) != ERR_OK) {
        problems_add(r->problems, PROBLEM_ERROR, file, r->table.csv.line,
                     "year “%s” must be from 1885 to 2100", text);
        return;
    }
    e->year = (int)value;
    e->period = rules_period_of(r->rules, e->year);
    if (e->period < 0 && !rules_may_have(r->rules, RULES_PERIODS))
        problems_add(r->problems, PROBLEM_ERROR, file, r->table.csv.line,
                     "car %s of %d fits no period of this event",
                     csv_columns_field(&r->table, COL_NUMBER), e->year);
}

static void read_car(struct entry_reader *r, struct entry *e) {
    const char *text = csv_columns_field(&r->table, COL_ENGINE);
    e->engine_cc = -1;
    if (*text != '\0' && decimal_parse_whole(text, 0, 1000000, &e->engine_cc) != ERR_OK)
        wrong(r, "engine_cc “%s” must be whole cubic centimetres", text);
    text = csv_columns_field(&r->table, COL_SUPERCHARGED);
    e->supercharged = strcmp(text, "yes") == 0;
    if (!e->supercharged && *text != '\0' && strcmp(text, "no") != 0)
        wrong(r, "supercharged “%s” must be yes or no", text);
    text = csv_columns_field(&r->table, COL_CATEGORY);
    e->category = rules_category_of(r->rules, text);
    if (r->rules->category_count > 0 && e->category < 0 && *text != '\0' &&
        !rules_may_have(r->rules, RULES_CATEGORIES))
        wrong(r, "category “%s” is not one of this event", text);
    if (e->period >= 0)
        e->class_index = r->rules->capacity_count == 0
                             ? e->period
                             : e->period * r->rules->capacity_count +
                                   rules_capacity_of(r->rules, e->engine_cc, e->supercharged);
}

static void read_groups(struct entry_reader *r, struct entry *e) {
    const char *text = csv_columns_field(&r->table, COL_GROUPS);
    while (*text != '\0') {
        size_t len = strcspn(text, ";");
        int group = rules_group_of(r->rules, text, len);
        bool may_be = rules_may_have(r->rules, RULES_GROUPS);
        if (group < 0 && !may_be)
            problems_add(r->problems, PROBLEM_ERROR, file, r->table.csv.line,
                         "group “%.*s” is not one of this event: name it in classes.groups of "
                         "event.json, and part groups by “;” alone",
                         (int)len, text);
        else if (group >= 0 && (e->groups >> group & 1) != 0)
            problems_add(r->problems, PROBLEM_ERROR, file, r->table.csv.line,
                         "group “%.*s” stands twice", (int)len, text);
        else if (group >= 0)
            e->groups |= UINT64_C(1) << group;
        text += len;
        text += *text == ';';
    }
}

static void read_coefficient(struct entry_reader *r, struct entry *e) {
    const char *text = csv_columns_field(&r->table, COL_COEFFICIENT);
    e->coefficient = 1000;
    if (*text == '\0')
        return;
    int64_t value;
    if (decimal_parse(text, &value) == ERR_OK && value > 0 && value <= COEFFICIENT_MAX)
        e->coefficient = value;
    else
        wrong(r, "coefficient “%s” must be from 0.001 to 99.999, such as 1.35", text);
}

static void read_born(struct entry_reader *r, struct entry *e) {
    const char *text = csv_columns_field(&r->table, COL_BORN);
    int64_t year;
    int64_t last;
    e->born = BORN_UNKNOWN;
    if (*text == '\0')
        return;
    char day[sizeof "YYYY-01-01"] = "";
    bool year_alone = decimal_parse_whole(text, 1885, 2100, &year) == ERR_OK;
    if (year_alone)
        (void)snprintf(day, sizeof day, "%04d-01-01", (int)year);
    (void)date_parse("2100-12-31", &last);
    if (date_parse(year_alone ? day : text, &e->born) == ERR_OK && e->born <= last)
        return;
    wrong(r, "born “%s” must be a year from 1885 to 2100, or a date such as 1961-04-30", text);
}

static int read_row(struct entry_reader *r) {
    struct entries *entries = r->entries;
    struct entry *list =
        array_reserve(entries->list, &r->cap, (size_t)entries->count + 1, sizeof *entries->list);
    if (list == NULL)
        return ERR_NOMEM;
    entries->list = list;
    struct entry *e = &list[entries->count];
    *e = (struct entry){.line = r->table.csv.line, .team_index = -1, .period = -1};
    if (csv_columns_has(&r->table, COL_NUMBER))
        read_number(r, e);
    if (csv_columns_has(&r->table, COL_YEAR))
        read_year(r, e);
    read_car(r, e);
    read_groups(r, e);
    read_coefficient(r, e);
    read_born(r, e);
    e->driver = kept(r, COL_DRIVER);
    e->navigator = kept(r, COL_NAVIGATOR);
    e->make = kept(r, COL_MAKE);
    e->model = kept(r, COL_MODEL);
    e->category_text = kept(r, COL_CATEGORY);
    e->team = kept(r, COL_TEAM);
    e->country = kept(r, COL_COUNTRY);
    e->club = kept(r, COL_CLUB);
    if (problems_out_of_memory(r->problems) || csv_columns_extras(&r->table, &e->extras) != ERR_OK)
        return ERR_NOMEM;
    if (*e->driver == '\0' && csv_columns_has(&r->table, COL_DRIVER))
        wrong(r, "the driver's name is empty%s", "");
    static const enum column_of_entries texts[] = {COL_DRIVER, COL_NAVIGATOR, COL_MAKE, COL_MODEL,
                                                   COL_TEAM,   COL_COUNTRY,   COL_CLUB};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        warn_of_text(r, texts[i]);
    entries->count++;
    return ERR_OK;
}

static int by_number(const void *a, const void *b) {
    return ((const struct entry *)a)->number - ((const struct entry *)b)->number;
}

static int by_text(const void *a, const void *b) {
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

const char *entry_column_word(const struct entry *entry, enum entry_column column) {
    switch (column) {
    case COLUMN_COUNTRY:
        return entry->country;
    case COLUMN_CLUB:
        return entry->club;
    case COLUMN_MAKE:
        return entry->make;
    default:
        return "";
    }
}

static const char *const *team_of(const struct rules *rules, const struct entry *entry) {
    return rules->scoring.teams_by_club ? &entry->club : &entry->team;
}

static int collect_teams(const struct rules *rules, struct entries *entries) {
    entries->teams =
        arena_array(entries->arena, (size_t)entries->count + 1, sizeof *entries->teams);
    if (entries->teams == NULL)
        return ERR_NOMEM;
    int count = 0;
    for (int i = 0; i < entries->count; i++) {
        const char *team = *team_of(rules, &entries->list[i]);
        if (*team != '\0')
            entries->teams[count++] = team;
    }
    qsort(entries->teams, (size_t)count, sizeof *entries->teams, by_text);
    for (int i = 0; i < count; i++) {
        if (entries->team_count == 0 ||
            strcmp(entries->teams[i], entries->teams[entries->team_count - 1]) != 0)
            entries->teams[entries->team_count++] = entries->teams[i];
    }
    for (int i = 0; i < entries->count; i++) {
        const char **found = bsearch(team_of(rules, &entries->list[i]), entries->teams,
                                     (size_t)entries->team_count, sizeof *entries->teams, by_text);
        entries->list[i].team_index = found == NULL ? -1 : (int)(found - entries->teams);
    }
    return ERR_OK;
}

enum { START_DAY, START_CAR, START_TIME, START_COUNT };

static const char starts_file[] = "starts.csv";

static const struct column start_columns[START_COUNT] = {
    [START_DAY] = {"day", true}, [START_CAR] = {"car", true}, [START_TIME] = {"time", true}};

/* The row of starts.csv that the table stands at. */
static int read_start(struct entry_reader *r) {
    struct entries *entries = r->entries;
    long line = r->table.csv.line;
    int64_t day;
    int64_t number = 0;
    int64_t time;
    int wrong_time;
    struct cure room;
    const char *day_text = csv_columns_field(&r->table, START_DAY);
    const char *car_text = csv_columns_field(&r->table, START_CAR);
    const char *time_text = csv_columns_field(&r->table, START_TIME);
    int car = decimal_parse_whole(car_text, 1, NUMBER_MAX, &number) == ERR_OK
                  ? entries_find(entries, number)
                  : -1;
    if (decimal_parse_whole(day_text, 1, r->rules->day_count, &day) != ERR_OK)
        problems_add(r->problems, PROBLEM_ERROR, starts_file, line,
                     "day “%s” is no day of this event", day_text);
    else if (car < 0 && !entries_may_have(entries, number))
        problems_add(r->problems, PROBLEM_ERROR, starts_file, line,
                     "car “%s” is not in the entry list", car_text);
    else if ((wrong_time = time_parse(time_text, &time)) == ERR_PRECISION)
        problems_add(r->problems, PROBLEM_ERROR, starts_file, line,
                     "time “%s” has more than three decimals", time_text);
    else if (wrong_time != ERR_OK)
        problems_add(r->problems, PROBLEM_ERROR, starts_file, line,
                     "time “%s” is no time of day: write HH:MM:SS%s", time_text,
                     cure_time(&room, time_text));
    else if (car < 0)
        return ERR_OK;
    else if (entries->starts[(day - 1) * entries->count + car] != TIME_NONE)
        problems_add(r->problems, PROBLEM_ERROR, starts_file, line, "car %s stands twice on day %s",
                     car_text, day_text);
    else
        entries->starts[(day - 1) * entries->count + car] = time;
    return ERR_OK;
}

/* A file of this module. `read` reads the row that the table stands at and reports what is wrong
 * there; it returns ERR_OK or ERR_NOMEM. */
struct row_file {
    const char *name;
    const struct column *columns;
    size_t count;
    int (*read)(struct entry_reader *r);
};

static const struct row_file entries_csv = {file, columns, COL_COUNT, read_row};
static const struct row_file starts_csv = {starts_file, start_columns, START_COUNT, read_start};

/* Opens a file of this module. Where the entry list lacks a column, or has one twice, its rows are
 * read all the same for what else is wrong: `header` gets the result, and ERR_OK is returned. */
static int open_rows(struct entry_reader *r, const struct row_file *rows, const char *text,
                     size_t len, int *header) {
    bool cars = rows == &entries_csv;
    *header = csv_columns_open(&r->table, rows->name, text, len, rows->columns, rows->count,
                               r->entries->arena, r->problems);
    bool goes_on = cars && *header == ERR_INPUT && r->table.header_is_read;
    if (cars && *header != ERR_OK && (!goes_on || !csv_columns_has(&r->table, COL_NUMBER)))
        r->entries->numbers_unread = true;
    return goes_on ? ERR_OK : *header;
}

/* A row that is not well formed is reported and passed over. */
static int read_rows(struct entry_reader *r, const struct row_file *rows, const char *text,
                     size_t len) {
    int header;
    int err = open_rows(r, rows, text, len, &header);
    while (err == ERR_OK) {
        enum csv_result result = csv_columns_next(&r->table);
        if (result == CSV_END)
            break;
        if (result == CSV_NOMEM) {
            err = ERR_NOMEM;
        } else if (result == CSV_BAD) {
            problems_add(r->problems, PROBLEM_ERROR, rows->name, r->table.csv.line, "%s",
                         r->table.csv.wrong);
            r->entries->numbers_unread = r->entries->numbers_unread || rows == &entries_csv;
        } else {
            err = rows->read(r);
        }
    }
    csv_columns_close(&r->table);
    return err == ERR_OK ? header : err;
}

/* Sorts the cars by number, and finds what depends on all of them: places, teams, memory for
 * starts. */
static int order_cars(struct entry_reader *r) {
    struct entries *entries = r->entries;
    if (entries->count > 0)
        qsort(entries->list, (size_t)entries->count, sizeof *entries->list, by_number);
    for (int i = 0; i < entries->count; i++)
        entries->by_number[entries->list[i].number] = (int16_t)i;
    size_t cells = (size_t)entries->count * (size_t)r->rules->day_count;
    entries->starts = arena_array(entries->arena, cells + 1, sizeof *entries->starts);
    if (entries->starts == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < cells; i++)
        entries->starts[i] = TIME_NONE;
    int err = collect_teams(r->rules, entries);
    return err == ERR_OK && !entries->unread && r->rules->unread == 0
               ? car_routes_find(r->rules, entries)
               : err;
}

int entries_read_partly(const struct rules *rules, const char *text, size_t len,
                        const char *starts_text, size_t starts_len, struct problems *problems,
                        struct entries **out) {
    struct entry_reader r = {.rules = rules, .problems = problems};
    size_t errors_before = problems->by_level[PROBLEM_ERROR];
    int err = ERR_NOMEM;
    *out = NULL;
    r.entries = calloc(1, sizeof *r.entries);
    if (r.entries == NULL || (r.entries->arena = arena_new()) == NULL)
        goto done;
    for (int i = 0; i <= NUMBER_MAX; i++)
        r.entries->by_number[i] = -1;
    err = text == NULL ? ERR_INPUT : read_rows(&r, &entries_csv, text, len);
    if (err == ERR_OK && r.entries->count == 0 &&
        problems->by_level[PROBLEM_ERROR] == errors_before)
        problems_add(problems, PROBLEM_ERROR, file, 1, "the entry list holds no car");
    r.entries->numbers_unread = r.entries->numbers_unread || text == NULL;
    r.entries->unread = err != ERR_OK || problems->by_level[PROBLEM_ERROR] > errors_before;
    if (err != ERR_NOMEM)
        err = order_cars(&r);
    if (err == ERR_OK && starts_text != NULL)
        err = read_rows(&r, &starts_csv, starts_text, starts_len);
    if (problems_out_of_memory(problems))
        err = ERR_NOMEM;
    else if (err == ERR_OK &&
             (r.entries->unread || problems->by_level[PROBLEM_ERROR] > errors_before))
        err = ERR_INPUT;
done:
    if (err == ERR_OK || err == ERR_INPUT)
        *out = r.entries;
    else
        entries_free(r.entries);
    return err;
}

int entries_read(const struct rules *rules, const char *text, size_t len, const char *starts_text,
                 size_t starts_len, struct problems *problems, struct entries **out) {
    int err = entries_read_partly(rules, text, len, starts_text, starts_len, problems, out);
    if (err == ERR_INPUT) {
        entries_free(*out);
        *out = NULL;
    }
    return err;
}

void entries_free(struct entries *entries) {
    if (entries == NULL)
        return;
    free(entries->list);
    arena_free(entries->arena);
    free(entries);
}

int entries_find(const struct entries *entries, int64_t number) {
    return number < 1 || number > NUMBER_MAX ? -1 : entries->by_number[number];
}

bool entries_may_have(const struct entries *entries, int64_t number) {
    return entries->numbers_unread && number >= 1 && number <= NUMBER_MAX;
}
