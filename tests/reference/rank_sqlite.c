/* SPDX-License-Identifier: MIT */
/* Positions of random fields with many ties against SQLite's RANK(). */
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "dice.h"
#include "scene.h"
#include "scoring/ranking.h"
#include "testing.h"

enum { FIELDS = 400, CARS_MAX = 60, KEYS = 19, TESTS = 2, COSTS = 3 };

static const char create[] =
    "CREATE TABLE field (car INTEGER PRIMARY KEY, fails INTEGER, total INTEGER, k1 INTEGER,"
    " k2 INTEGER, k3 INTEGER, k4 INTEGER, k5 INTEGER, k6 INTEGER, k7 INTEGER, k8 INTEGER,"
    " k9 INTEGER, k10 INTEGER, k11 INTEGER, k12 INTEGER, k13 INTEGER, k14 INTEGER, k15 INTEGER,"
    " k16 INTEGER, k17 INTEGER, k18 INTEGER, k19 INTEGER) STRICT";
static const char insert[] =
    "INSERT INTO field VALUES (:car, :fails, :total, :k1, :k2, :k3, :k4, :k5, :k6, :k7, :k8, :k9,"
    " :k10, :k11, :k12, :k13, :k14, :k15, :k16, :k17, :k18, :k19)";
static const char empty[] = "DELETE FROM field";
/* Equal cars follow by number, as on a board. */
static const char ranked[] =
    "SELECT car, place, COUNT(*) OVER (PARTITION BY place) > 1 FROM (SELECT car, RANK() OVER"
    " (ORDER BY fails, total, k1, k2, k3, k4, k5, k6, k7, k8, k9, k10, k11, k12, k13, k14, k15,"
    " k16, k17, k18, k19) AS place"
    " FROM field) ORDER BY place, car";

struct database {
    sqlite3 *db;
    sqlite3_stmt *insert;
    sqlite3_stmt *empty;
    sqlite3_stmt *ranked;
};

static void open_database(struct database *d) {
    assert_int_equal(sqlite3_open(":memory:", &d->db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(d->db, create, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(d->db, insert, -1, &d->insert, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(d->db, empty, -1, &d->empty, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(d->db, ranked, -1, &d->ranked, NULL), SQLITE_OK);
}

static void close_database(struct database *d) {
    (void)sqlite3_finalize(d->insert);
    (void)sqlite3_finalize(d->empty);
    (void)sqlite3_finalize(d->ranked);
    assert_int_equal(sqlite3_close(d->db), SQLITE_OK);
}

static void run(sqlite3_stmt *statement) {
    assert_int_equal(sqlite3_step(statement), SQLITE_DONE);
    assert_int_equal(sqlite3_reset(statement), SQLITE_OK);
}

static void bind(sqlite3_stmt *statement, const char *name, int64_t value) {
    int place = sqlite3_bind_parameter_index(statement, name);
    assert_true(place > 0);
    assert_int_equal(sqlite3_bind_int64(statement, place, value), SQLITE_OK);
}

/* An event of that many cars, two tests, and the tie rules in some order. */
static void open_field(struct scene *scene, struct dice *dice, int cars) {
    static const char *const words[] = {
        "'most-clean'",       "'furthest-clean'", "'older-car'",  "'smaller-engine'",
        "'first-difference'", "'test:B'",         "'count-back'", "'older-driver'",
        "'younger-driver'",   "'time:B'"};
    struct textbuf rules = {0};
    struct textbuf entries = {0};
    struct textbuf ties = {0};
    size_t order[COUNT_OF(words)];
    size_t taken = dice_below(dice, COUNT_OF(words) + 1);
    dice_shuffle(dice, order, COUNT_OF(words));
    for (size_t i = 0; i < taken; i++)
        textbuf_printf(&ties, "%s%s", i > 0 ? ", " : "", words[order[i]]);
    textbuf_printf(&rules,
                   RULES(FIVA, "{'ties': [%s]}",
                         "{'day': 1, 'id': 'A', 'kind': 'set-time', 'targets': [9]}, {'day': 1, "
                         "'id': 'B', 'kind': 'special-test'}"),
                   textbuf_text(&ties));
    textbuf_puts(&entries, "number,driver,navigator,make,model,year,born,engine_cc\n");
    for (int i = 1; i <= cars; i++) {
        textbuf_printf(&entries, "%d,D,,M,X,%d,", i, (int)dice_between(dice, 1925, 1927));
        if (dice_below(dice, 4) > 0)
            textbuf_int(&entries, dice_between(dice, 1950, 1952));
        textbuf_putc(&entries, ',');
        if (dice_below(dice, 4) > 0)
            textbuf_int(&entries, dice_between(dice, 1, 3) * 1000);
        textbuf_putc(&entries, '\n');
    }
    struct event_text texts = {.rules = textbuf_text(&rules), .entries = textbuf_text(&entries)};
    scene_open(scene, &texts, (struct viewpoint){.live = true});
    textbuf_clear(&rules);
    textbuf_clear(&entries);
    textbuf_clear(&ties);
}

/* Up to two whole costs of 0 to 2, in rising order. */
static void roll_costs(struct car_score *car, struct dice *dice) {
    int64_t a = dice_between(dice, 0, COSTS - 1) * 1000;
    int64_t b = dice_between(dice, 0, COSTS - 1) * 1000;
    const int64_t costs[] = {a < b ? a : b, a < b ? b : a};
    car->whole_cost_count = (int)dice_below(dice, 3);
    for (int i = 0; i < car->whole_cost_count; i++)
        car->whole_costs[i] = costs[i];
}

/* Results from a few values only, so that most cars tie with others. */
static void roll_results(struct scene *scene, struct dice *dice) {
    for (int i = 0; i < scene->event->entries->count; i++) {
        struct car_score *car = &scene->scores->cars[i];
        car->tally[BASIS_CORRECTED] = (struct tally){.total = dice_between(dice, -1, 1) * 500,
                                                     .fails = (int)dice_below(dice, 2)};
        car->clean = (int)dice_below(dice, 2);
        car->furthest = (int)dice_below(dice, 2);
        for (int t = 0; t < scene->event->rules->scoring.tie_time_count; t++)
            car->tie_times[t] = dice_below(dice, 4) == 0 ? TIME_NONE : dice_between(dice, 1, 2);
        if (scene->event->rules->scoring.counts_back)
            roll_costs(car, dice);
        for (int t = 0; t < TESTS; t++) {
            car->item_penalty[t] = dice_between(dice, 0, 1) * 10;
            car->item_fails[t] = (int)dice_below(dice, 2);
            car->item_flags[t] = dice_below(dice, 5) == 0 ? ITEM_ALL_ABSENT : 0;
        }
    }
}

static int64_t known_or_last(int64_t time) {
    return time == TIME_NONE ? 999999 : time;
}

/* A test as sort keys; what an absent car got there plays no part. */
static int test_keys(const struct car_score *car, int item, int64_t *keys) {
    bool absent = (car->item_flags[item] & ITEM_ALL_ABSENT) != 0;
    keys[0] = absent;
    keys[1] = absent ? 0 : car->item_fails[item];
    keys[2] = absent ? 0 : car->item_penalty[item];
    return 3;
}

/* The tie rules as numbers of which the smaller is ahead, in their order. */
static void keys_of(const struct scene *scene, int place, int64_t keys[KEYS]) {
    const struct scoring *scoring = &scene->event->rules->scoring;
    const struct car_score *car = &scene->scores->cars[place];
    const struct entry *entry = &scene->event->entries->list[place];
    int count = 0; /* at most KEYS: one for each of seven rules, nine for the tests, and costs */
    memset(keys, 0, KEYS * sizeof *keys);
    for (int i = 0; i < scoring->tie_count; i++) {
        switch (scoring->ties[i].kind) {
        case TIE_MOST_CLEAN:
            keys[count++] = -car->clean;
            break;
        case TIE_FURTHEST_CLEAN:
            keys[count++] = -car->furthest;
            break;
        case TIE_OLDER_CAR:
            keys[count++] = entry->year;
            break;
        case TIE_SMALLER_ENGINE:
            keys[count++] = entry->engine_cc < 0 ? 999999 : entry->engine_cc;
            break;
        case TIE_OLDER_DRIVER:
            keys[count++] = entry->born == BORN_UNKNOWN ? 999999 : entry->born;
            break;
        case TIE_YOUNGER_DRIVER:
            keys[count++] = entry->born == BORN_UNKNOWN ? 999999 : -entry->born;
            break;
        case TIE_TIME:
            keys[count++] = known_or_last(car->tie_times[scoring->ties[i].time]);
            break;
        case TIE_COUNT_BACK:
            for (int c = 0; c < car->whole_cost_count; c++)
                keys[count + car->whole_costs[c] / 1000]--;
            count += COSTS;
            break;
        case TIE_FIRST_DIFFERENCE:
            for (int t = 0; t < TESTS; t++)
                count += test_keys(car, t, keys + count);
            break;
        case TIE_TEST:
            count += test_keys(car, 1, keys + count);
            break;
        }
    }
}

static void fill(struct database *d, const struct scene *scene) {
    run(d->empty);
    for (int i = 0; i < scene->event->entries->count; i++) {
        int64_t keys[KEYS];
        const struct tally *tally = &scene->scores->cars[i].tally[BASIS_CORRECTED];
        keys_of(scene, i, keys);
        bind(d->insert, ":car", scene->event->entries->list[i].number);
        bind(d->insert, ":fails", tally->fails);
        bind(d->insert, ":total", tally->total);
        for (int k = 0; k < KEYS; k++) {
            char name[16];
            (void)snprintf(name, sizeof name, ":k%d", k + 1);
            bind(d->insert, name, keys[k]);
        }
        run(d->insert);
    }
}

/* Both orders side by side. Returns how many cars share a place. */
static int compare(struct database *d, const struct scene *scene, struct dice *dice) {
    int count = scene->event->entries->count;
    size_t order[CARS_MAX];
    struct ranked list[CARS_MAX];
    int shared = 0;
    dice_shuffle(dice, order, (size_t)count);
    for (int i = 0; i < count; i++)
        list[i] = (struct ranked){.car = (int)order[i]};
    struct ranking ranking = {scene->scores, RANKED_BY_TOTAL, BASIS_CORRECTED, 0};
    ranking_sort(&ranking, list, count);
    for (int i = 0; i < count; i++) {
        assert_int_equal(sqlite3_step(d->ranked), SQLITE_ROW);
        assert_int_equal(scene->event->entries->list[list[i].car].number,
                         sqlite3_column_int64(d->ranked, 0));
        assert_int_equal(list[i].position, sqlite3_column_int64(d->ranked, 1));
        assert_int_equal(list[i].equal, sqlite3_column_int64(d->ranked, 2));
        shared += list[i].equal;
    }
    run(d->ranked);
    return shared;
}

BEHAVIOUR(positions_of_random_fields_are_those_of_rank) {
    struct database d;
    struct dice dice = {1974};
    int shared = 0;
    open_database(&d);
    for (int n = 0; n < FIELDS; n++) {
        struct scene scene;
        open_field(&scene, &dice, (int)dice_between(&dice, 1, CARS_MAX));
        roll_results(&scene, &dice);
        fill(&d, &scene);
        shared += compare(&d, &scene, &dice);
        scene_close(&scene);
    }
    /* there were many ties, and more than ties */
    assert_in_range(shared, FIELDS * 3, FIELDS * CARS_MAX / 2);
    close_database(&d);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(positions_of_random_fields_are_those_of_rank),
    };
    RUN_BEHAVIOURS(tests);
}
