/* SPDX-License-Identifier: MIT */
/* All 406 cars of an open data set, put into classes and into order (facts 51 and 52).
 *
 *   test_open_data [CARS_JSON]
 *
 * Source: data/cars.json of the npm package vega-datasets 3.2.1 (BSD-3-Clause), from StatLib's
 * file "cars"; installed for the tests only. Capacities are cubic inches there. The expected
 * counts were taken from the file by other means (D). */
#include "published.h"

#include <stdlib.h>

#include "base/arena.h"
#include "format/csv.h"
#include "format/json_read.h"

enum { CARS = 406 };

static const char *path = "tests/node_modules/vega-datasets/data/cars.json";

/* What a test needs of a row: the year, and the capacity as thousandths of a cubic inch. */
struct data_row {
    int year;
    int64_t displacement;
};

static struct data_row rows[CARS];
static struct textbuf entries;
static struct textbuf sightings;

/* A cubic inch is 16.387064 cc exactly. To the nearest whole cc, as entries have it. */
static int64_t whole_cc(int64_t thousandths) {
    return (thousandths * 16387064 + 500000000) / 1000000000;
}

static char *read_file(size_t *len) {
    char *text = NULL;
    FILE *file = fopen(path, "rb");
    long size = -1;
    if (file == NULL)
        return NULL;
    if (fseek(file, 0, SEEK_END) == 0)
        size = ftell(file);
    if (size > 0 && fseek(file, 0, SEEK_SET) == 0)
        text = malloc((size_t)size);
    if (text != NULL && fread(text, 1, (size_t)size, file) != (size_t)size) {
        free(text);
        text = NULL;
    }
    *len = size > 0 ? (size_t)size : 0;
    (void)fclose(file);
    return text;
}

/* One row of the data set becomes car `number`. */
static int take_row(const struct json_reader *reader, const json_t *value, int number) {
    struct json_place place = {.index = (size_t)number - 1};
    const char *name = NULL;
    const char *date = NULL;
    struct data_row *row = &rows[number - 1];
    if (!json_get_text(reader, value, &place, "Name", true, &name) ||
        !json_get_text(reader, value, &place, "Year", true, &date) ||
        !json_get_decimal(reader, value, &place, "Displacement", true, 1, 1000000,
                          &row->displacement))
        return ERR_INPUT;
    /* Always the first of January. */
    if (strlen(date) != 10 || strcmp(date + 4, "-01-01") != 0)
        return ERR_INPUT;
    row->year = (int)strtol(date, NULL, 10);
    textbuf_printf(&entries, "%d,Crew %d,,Make,", number, number);
    csv_write_field(&entries, name);
    textbuf_printf(&entries, ",%d,%lld\n", row->year, (long long)whole_cc(row->displacement));
    textbuf_printf(&sightings, "PC1,%d\n", number);
    return ERR_OK;
}

/* Reads the data set once; jansson's reals are passed by, so that 97.5 stays 97.5. */
static int read_cars(void **state) {
    (void)state;
    struct problems problems = {0};
    struct json_reader reader = {.file = "cars.json", .arena = arena_new(), .problems = &problems};
    json_t *root = NULL;
    size_t len = 0;
    char *text = read_file(&len);
    int err = ERR_IO;
    if (text == NULL)
        print_error("%s: cannot be read; install the tests' npm packages\n", path);
    else
        err = json_read_text(&reader, text, len, &root);
    if (err == ERR_OK && json_array_size(root) != CARS)
        err = ERR_INPUT;
    textbuf_puts(&entries, ENTRIES ",engine_cc\n");
    textbuf_puts(&sightings, "point,car\n");
    for (int i = 0; err == ERR_OK && i < CARS; i++)
        err = take_row(&reader, json_array_get(root, (size_t)i), i + 1);
    for (size_t i = 0; i < problems.count; i++)
        print_error("%s: %s\n", problems.list[i].place, problems.list[i].text);
    json_decref(root);
    free(text);
    problems_clear(&problems);
    arena_free(reader.arena);
    return err;
}

static int forget_cars(void **state) {
    (void)state;
    textbuf_clear(&entries);
    textbuf_clear(&sightings);
    return 0;
}

/* An event with all the cars, each seen at its one control. */
static void open_all(struct trial *t, const char *classes, const char *scoring) {
    trial_open(t, (struct folder){.classes = classes,
                                  .scoring = scoring,
                                  .route = "[{'day':1,'id':'PC1','kind':'passage-control',"
                                           "'name':'Gannet Bridge'}]",
                                  .entries = textbuf_text(&entries),
                                  .readings = textbuf_text(&sightings)});
    assert_int_equal(t->model->entries->count, CARS);
}

/* Every class that has cars, in order: "G2 64, H1 125". Counted in the standings by class. */
static const char *class_counts(const char *classes) {
    struct trial t;
    struct standings *st = NULL;
    struct textbuf counts = {0};
    open_all(&t, classes, NULL);
    assert_int_equal(standings_new(t.scores, BY_CLASS, &st), ERR_OK);
    int sum = 0;
    for (int i = 0; i < st->group_count; i++) {
        const struct standings_group *group = &st->groups[i];
        textbuf_puts(&counts, i > 0 ? ", " : "");
        rules_class_id(t.model->rules, group->index, &counts);
        textbuf_printf(&counts, " %d", group->placed_count);
        sum += group->placed_count;
    }
    assert_int_equal(sum, CARS);
    standings_free(st);
    trial_close(&t);
    return kept(&counts);
}

#define ALL_YEARS "'scheme':'custom','periods':[{'id':'all'}]"
#define CAPACITY                                                                                   \
    "'capacity':[{'id':'1','to':1300},{'id':'2','to':1600},{'id':'3','to':2000},{'id':'4'}]"

/* 51. Rows by year; there is no 1981. */
static void rows_by_year_are_as_counted(void **state) {
    (void)state;
    static const int expected[] = {35, 29, 28, 40, 27, 30, 34, 28, 36, 29, 29, 0, 61};
    int counts[13] = {0};
    for (int i = 0; i < CARS; i++) {
        assert_in_range(rows[i].year, 1970, 1982);
        counts[rows[i].year - 1970]++;
    }
    assert_memory_equal(counts, expected, sizeof expected);
    assert_string_equal(
        class_counts("{'scheme':'custom','periods':[{'id':'1970','to':1970},"
                     "{'id':'1971-81','from':1971,'to':1981},{'id':'1982','from':1982}]}"),
        "1970 35, 1971-81 310, 1982 61");
}

/* 51, with the periods of fact 1. */
static void fia_touring_periods_are_as_counted(void **state) {
    (void)state;
    assert_string_equal(class_counts("{'scheme':'appendix-k'}"),
                        "G2 64, H1 125, H2 34, I 122, J1 61");
}

/* 51, with the classes of fact 4. */
static void fiva_classes_are_as_counted(void **state) {
    (void)state;
    assert_string_equal(class_counts("{'scheme':'fiva'}"), "F 35, G 371");
}

/* 51, with the categories of fact 5. */
static void uk_categories_are_as_counted(void **state) {
    (void)state;
    assert_string_equal(
        class_counts("{'scheme':'custom','periods':[{'id':'1','to':1967},"
                     "{'id':'2','from':1968,'to':1974},{'id':'3','from':1975,'to':1981},"
                     "{'id':'4','from':1982,'to':1990}]}"),
        "2 159, 3 186, 4 61");
}

/* 51, with the categories of fact 6. */
static void monte_carlo_categories_are_as_counted(void **state) {
    (void)state;
    assert_string_equal(
        class_counts("{'scheme':'custom','periods':[{'id':'I','to':1965},"
                     "{'id':'II','from':1966,'to':1971},{'id':'III','from':1972,'to':1976},"
                     "{'id':'IV','from':1977,'to':1982}]}"),
        "II 64, III 159, IV 183");
}

/* 51. */
static void capacity_classes_are_as_counted(void **state) {
    (void)state;
    assert_string_equal(class_counts("{" ALL_YEARS "," CAPACITY "}"),
                        "all-1 15, all-2 65, all-3 87, all-4 239");
}

/* 51. G2 3/7/9/45, H1 8/15/25/77, H2 0/6/6/22, I 3/25/25/69, J1 1/12/22/26; a class without cars
 * is left out. */
static void fia_periods_by_capacity_are_as_counted(void **state) {
    (void)state;
    assert_string_equal(class_counts("{'scheme':'appendix-k'," CAPACITY "}"),
                        "G2-1 3, G2-2 7, G2-3 9, G2-4 45, H1-1 8, H1-2 15, H1-3 25, H1-4 77, "
                        "H2-2 6, H2-3 6, H2-4 22, I-1 3, I-2 25, I-3 25, I-4 69, "
                        "J1-1 1, J1-2 12, J1-3 22, J1-4 26");
}

/* The place among `rows` of the first car with that capacity, thousandths of a cubic inch. */
static int first_with(int64_t displacement) {
    for (int i = 0; i < CARS; i++) {
        if (rows[i].displacement == displacement)
            return i;
    }
    fail_msg("no car has that capacity");
    return -1;
}

/* 51. Cubic inches near the limits, and the extremes: 79 are 1294.58 cc, 97.5 are 1597.74, 98 are
 * 1605.93, 122 are 1999.22, 68 are 1114.32, 455 are 7456.11. */
static void cars_near_the_limits_fall_into_the_right_class(void **state) {
    (void)state;
    static const struct {
        int64_t displacement;
        int64_t cc;
        const char *class_id;
    } near[] = {
        {79000, 1295, "all-1"},  {97500, 1598, "all-2"}, {98000, 1606, "all-3"},
        {122000, 1999, "all-3"}, {68000, 1114, "all-1"}, {455000, 7456, "all-4"},
    };
    struct trial t;
    open_all(&t, "{" ALL_YEARS "," CAPACITY "}", NULL);
    for (size_t i = 0; i < sizeof near / sizeof *near; i++) {
        int place = first_with(near[i].displacement);
        const struct entry *entry = &t.model->entries->list[place];
        struct textbuf id = {0};
        assert_int_equal(entry->number, place + 1);
        assert_int_equal(entry->engine_cc, near[i].cc);
        rules_class_id(t.model->rules, entry->class_index, &id);
        assert_string_equal(textbuf_text(&id), near[i].class_id);
        textbuf_clear(&id);
    }
    for (int i = 0; i < CARS; i++)
        assert_in_range(rows[i].displacement, 68000, 455000);
    trial_close(&t);
}

/* Checks that all cars of that capacity, so many of them, have one place, shared or not. */
static void expect_place(const struct trial *t, int64_t displacement, int count, int position) {
    int found = 0;
    for (int i = 0; i < CARS; i++) {
        if (rows[i].displacement != displacement)
            continue;
        found++;
        assert_int_equal(score_of(t, i + 1)->position, position);
        assert_int_equal(score_of(t, i + 1)->equal, count > 1);
    }
    assert_int_equal(found, count);
}

/* 52. All totals are equal; the smaller engine is ahead, and equal engines share a place. */
static void smaller_engines_are_ahead_and_equal_ones_share_a_place(void **state) {
    (void)state;
    struct trial t;
    open_all(&t, "{'scheme':'fiva'}", "{'ties':['smaller-engine']}");
    assert_int_equal(t.scores->placed, CARS);
    expect_place(&t, 68000, 1, 1);
    expect_place(&t, 70000, 3, 2);
    expect_place(&t, 71000, 2, 5);
    expect_place(&t, 72000, 1, 7);
    expect_place(&t, 76000, 1, 8);
    expect_place(&t, 78000, 1, 9);
    expect_place(&t, 79000, 6, 10);
    expect_place(&t, 80000, 1, 16);
    trial_close(&t);
}

/* 52. 83 distinct places, the largest of 22 cars (97 cubic inches); after a shared place come as
 * many gaps as it has cars more than one. */
static void shared_places_leave_gaps_over_the_whole_list(void **state) {
    (void)state;
    struct trial t;
    open_all(&t, "{'scheme':'fiva'}", "{'ties':['smaller-engine']}");
    int places = 0;
    int largest = 0;
    int64_t largest_of = 0;
    for (int i = 0; i < CARS;) {
        int car = t.scores->order[i];
        int position = t.scores->cars[car].position;
        int count = 0;
        assert_int_equal(position, i + 1);
        for (; i < CARS && t.scores->cars[t.scores->order[i]].position == position; i++) {
            assert_int_equal(rows[t.scores->order[i]].displacement, rows[car].displacement);
            count++;
        }
        if (i < CARS)
            assert_true(rows[t.scores->order[i]].displacement > rows[car].displacement);
        if (count > largest) {
            largest = count;
            largest_of = rows[car].displacement;
        }
        places++;
    }
    assert_int_equal(places, 83);
    assert_int_equal(largest, 22);
    assert_int_equal(largest_of, 97000);
    trial_close(&t);
}

/* 52. Then the older car: the six of 79 cubic inches are of 1971, 1974 three times, 1977 and 1982,
 * and so 10, 11=, 11=, 11=, 14 and 15; three are still equal, and the tie stays. */
static void older_cars_are_ahead_among_equal_engines(void **state) {
    (void)state;
    struct trial t;
    static const struct {
        int year;
        const char *place;
    } expected[] = {{1971, "10"},  {1974, "11="}, {1974, "11="},
                    {1974, "11="}, {1977, "14"},  {1982, "15"}};
    open_all(&t, "{'scheme':'fiva'}", "{'ties':['smaller-engine','older-car']}");
    for (int i = 0; i < 6; i++) {
        int car = t.scores->order[9 + i];
        assert_int_equal(rows[car].displacement, 79000);
        assert_int_equal(rows[car].year, expected[i].year);
        assert_string_equal(place_of(&t, car + 1), expected[i].place);
    }
    expect_place(&t, 80000, 1, 16);
    trial_close(&t);
}

int main(int argc, char **argv) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_by_year_are_as_counted),
        cmocka_unit_test(fia_touring_periods_are_as_counted),
        cmocka_unit_test(fiva_classes_are_as_counted),
        cmocka_unit_test(uk_categories_are_as_counted),
        cmocka_unit_test(monte_carlo_categories_are_as_counted),
        cmocka_unit_test(capacity_classes_are_as_counted),
        cmocka_unit_test(fia_periods_by_capacity_are_as_counted),
        cmocka_unit_test(cars_near_the_limits_fall_into_the_right_class),
        cmocka_unit_test(smaller_engines_are_ahead_and_equal_ones_share_a_place),
        cmocka_unit_test(shared_places_leave_gaps_over_the_whole_list),
        cmocka_unit_test(older_cars_are_ahead_among_equal_engines),
    };
    if (argc > 1)
        path = argv[1];
    return cmocka_run_group_tests(tests, read_cars, forget_cars);
}
