/* SPDX-License-Identifier: MIT */
/* Positions with shared places against SQLite's RANK(), on random fields with many ties.
 * Reference: SQLite's window functions. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <sqlite3.h>
#include <stdio.h>

#include "dice.h"
#include "ranking.h"
#include "scene.h"
#include "textbuf.h"

enum { FIELDS = 60, CARS_MAX = 120 };

/* A field of cars whose penalties and years are few, so that many are equal. */
static void write_field(struct dice *dice, int cars, struct textbuf *entries,
                        struct textbuf *decisions) {
    textbuf_puts(entries, "number,driver,navigator,make,model,year,engine_cc\n");
    textbuf_puts(decisions, "kind,car,point,value,reason\n");
    for (int n = 1; n <= cars; n++) {
        textbuf_printf(entries, "%d,Driver %d,,Calder,Six,%d,%d\n", n, n,
                       (int)dice_between(dice, 1950, 1953), (int)dice_between(dice, 1, 3) * 1000);
        textbuf_printf(decisions, "penalty,%d,,%d.5,weighed\n", n, (int)dice_between(dice, 0, 9));
    }
}

static void load(sqlite3 *db, const struct scene *scene) {
    sqlite3_stmt *st = NULL;
    assert_int_equal(sqlite3_exec(db, "DELETE FROM field", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, "INSERT INTO field VALUES (?, ?, ?, ?)", -1, &st, NULL),
                     SQLITE_OK);
    for (int i = 0; i < scene->event->entries->count; i++) {
        const struct entry *e = &scene->event->entries->list[i];
        (void)sqlite3_bind_int(st, 1, e->number);
        (void)sqlite3_bind_int64(st, 2, scene->scores->cars[i].tally[BASIS_CORRECTED].total);
        (void)sqlite3_bind_int(st, 3, e->year);
        (void)sqlite3_bind_int64(st, 4, e->engine_cc);
        assert_int_equal(sqlite3_step(st), SQLITE_DONE);
        (void)sqlite3_reset(st);
    }
    (void)sqlite3_finalize(st);
}

static int compare_places(sqlite3 *db, const struct scene *scene, const char *order) {
    char sql[256];
    sqlite3_stmt *st = NULL;
    int shared = 0;
    (void)snprintf(sql, sizeof sql,
                   "SELECT number, RANK() OVER w, count(*) OVER (PARTITION BY %s) FROM field"
                   " WINDOW w AS (ORDER BY %s)",
                   order, order);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &st, NULL), SQLITE_OK);
    while (sqlite3_step(st) == SQLITE_ROW) {
        const struct car_score *score = scene_car(scene, sqlite3_column_int(st, 0));
        assert_int_equal(score->position, sqlite3_column_int(st, 1));
        assert_int_equal(score->equal, sqlite3_column_int(st, 2) > 1);
        shared += score->equal;
    }
    (void)sqlite3_finalize(st);
    return shared;
}

static void places_are_those_of_rank(sqlite3 *db, const char *ties, const char *order) {
    struct dice dice = {41};
    struct textbuf rules = {0};
    int shared = 0;
    textbuf_printf(&rules,
                   "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': 'UTC', 'unit': 'km', "
                   "'days': [{'date': '2027-05-20', 'first_start': '08:01', 'interval': '60'}], "
                   "'classes': {'scheme': 'fiva'}, 'scoring': {'ties': [%s]}, 'route': "
                   "[{'day': 1, 'id': 'PC1', 'kind': 'passage-control'}]}",
                   ties);
    for (int f = 0; f < FIELDS; f++) {
        struct textbuf entries = {0};
        struct textbuf decisions = {0};
        struct textbuf readings = {0};
        struct scene scene;
        int cars = (int)dice_between(&dice, 2, CARS_MAX);
        write_field(&dice, cars, &entries, &decisions);
        textbuf_puts(&readings, "point,car\n");
        for (int n = 1; n <= cars; n++)
            textbuf_printf(&readings, "PC1,%d\n", n);
        const struct event_text texts = {textbuf_text(&rules), textbuf_text(&entries), NULL,
                                         textbuf_text(&readings), textbuf_text(&decisions)};
        scene_open(&scene, &texts, (struct look){0});
        load(db, &scene);
        shared += compare_places(db, &scene, order);
        scene_close(&scene);
        textbuf_clear(&entries);
        textbuf_clear(&decisions);
        textbuf_clear(&readings);
    }
    assert_true(shared > FIELDS);
    textbuf_clear(&rules);
}

static void equal_penalties_share_a_place(void **state) {
    places_are_those_of_rank(*state, "", "penalty");
}

static void ties_are_broken_in_their_order_and_the_rest_share(void **state) {
    places_are_those_of_rank(*state, "'older-car'", "penalty, year");
    places_are_those_of_rank(*state, "'smaller-engine', 'older-car'", "penalty, engine, year");
}

static int open_db(void **state) {
    sqlite3 *db = NULL;
    if (sqlite3_open(":memory:", &db) != SQLITE_OK ||
        sqlite3_exec(db, "CREATE TABLE field (number INT, penalty INT, year INT, engine INT)", NULL,
                     NULL, NULL) != SQLITE_OK)
        return -1;
    *state = db;
    return 0;
}

static int close_db(void **state) {
    return sqlite3_close(*state);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(equal_penalties_share_a_place),
        cmocka_unit_test(ties_are_broken_in_their_order_and_the_rest_share),
    };
    return cmocka_run_group_tests(tests, open_db, close_db);
}
