/* SPDX-License-Identifier: MIT */
/* A simplified scoring, three ways on the same times: 200 cars at 120 time controls, deviation in
 * whole seconds times a rate, the sum, the rank.
 *
 *   simple  the library's own price of a deviation and its ranking, without the rest
 *   whole   the library's whole scoring of an event with these controls, all rules on
 *   SQL     one statement over a table in memory
 *
 * All three must give the same sums and places; bench_scoring.py has a spreadsheet do it too. */
#include "figures.h"

#include <sqlite3.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/event.h"
#include "event/penalty.h"
#include "scoring/ranking.h"
#include "scoring/scoring.h"

enum { CARS = 200, POINTS = 120, ROUNDS = 9, EARLY = 2, LATE = 1, TARGET_S = 600, FIRST_S = 28800 };

/* Seconds by which a car is late at a point. The same rule stands in bench_scoring.py. */
static int64_t lateness(int car, int point) {
    return (car * 7919 + point * 104729 + car * point * 31) % 181 - 60;
}

static int64_t due_ms(int car, int point) {
    return (FIRST_S + (int64_t)(car - 1) * 60 + (int64_t)point * TARGET_S) * 1000;
}

/* As the watch showed it: hundredths that the scoring cuts off. */
static int64_t read_ms(int car, int point) {
    return due_ms(car, point) + lateness(car, point) * 1000 + (int64_t)(car * point % 100) * 10;
}

struct times {
    int64_t due[CARS][POINTS];
    int64_t read[CARS][POINTS];
};

struct result {
    int64_t totals[CARS]; /* thousandths */
    int positions[CARS];
};

static void must(int good, const char *what) {
    if (good)
        return;
    (void)fprintf(stderr, "bench: %s\n", what);
    exit(1);
}

/* Four days of thirty controls, each a main control: lateness is not carried, so that each stands
 * for itself. */
static struct model *make_event(void) {
    struct textbuf rules = {0};
    struct textbuf entries = {0};
    struct textbuf readings = {0};
    struct problems problems = {0};
    struct model *model = NULL;
    textbuf_printf(&rules,
                   "{\"name\":\"Merrow Bench\",\"slug\":\"merrow-bench\",\"timezone\":\"UTC\","
                   "\"unit\":\"km\",\"days\":[{\"date\":\"2027-05-20\",\"first_start\":\"08:00\","
                   "\"interval\":\"00:01:00\",\"order\":\"number\"}],"
                   "\"classes\":{\"scheme\":\"custom\",\"periods\":[{\"id\":\"A\",\"name\":\"All\"}"
                   "]},\"scoring\":{\"timing\":\"scheduled\",\"ties\":[],\"defaults\":{"
                   "\"time-control\":{\"precision\":\"second\",\"early\":%d,\"late\":%d}}},"
                   "\"route\":[",
                   EARLY, LATE);
    for (int p = 1; p <= POINTS; p++)
        textbuf_printf(&rules,
                       "%s{\"day\":1,\"id\":\"C%d\",\"kind\":\"time-control\",\"target\":\"%d\","
                       "\"main\":true}",
                       p == 1 ? "" : ",", p, TARGET_S);
    textbuf_puts(&rules, "]}");
    textbuf_puts(&entries, "number,driver,navigator,make,model,year\n");
    textbuf_puts(&readings, "point,car,time\n");
    for (int car = 1; car <= CARS; car++) {
        textbuf_printf(&entries, "%d,D,N,Calder,Six,1930\n", car);
        for (int p = 1; p <= POINTS; p++) {
            textbuf_printf(&readings, "C%d,%d,", p, car);
            time_write(&readings, read_ms(car, p), 2);
            textbuf_putc(&readings, '\n');
        }
    }
    struct event_files files = {.rules = {rules.bytes, rules.len},
                                .entries = {entries.bytes, entries.len},
                                .readings = {readings.bytes, readings.len}};
    int err = model_read(&files, &problems, &model);
    for (size_t i = 0; i < problems.count && i < 5; i++)
        (void)fprintf(stderr, "%s: %s\n", problems.list[i].place, problems.list[i].text);
    must(err == ERR_OK && problems.count == 0, "the event is not read");
    problems_clear(&problems);
    textbuf_clear(&rules);
    textbuf_clear(&entries);
    textbuf_clear(&readings);
    return model;
}

/* `room` lends its cars and its event to the ranking. */
static void score_simple(const struct times *times, const struct penalty_rule *rule,
                         struct scores *room, struct result *out) {
    struct ranking ranking = {room, RANKED_BY_TOTAL, BASIS_CORRECTED, 0};
    struct ranked list[CARS];
    for (int car = 0; car < CARS; car++) {
        int64_t sum = 0;
        for (int p = 0; p < POINTS; p++) {
            int64_t late = time_truncate(times->read[car][p] - times->due[car][p], rule->precision);
            sum += penalty_price(rule, late).penalty;
        }
        room->cars[car].tally[BASIS_CORRECTED].total = out->totals[car] = sum;
        list[car].car = car;
    }
    ranking_sort(&ranking, list, CARS);
    for (int i = 0; i < CARS; i++)
        out->positions[list[i].car] = list[i].position;
}

static void score_whole(struct scores *scores, struct scorer *scorer, struct result *out) {
    scores_update_all(scores, scorer);
    scores_rank(scores, scorer);
    for (int car = 0; car < CARS; car++) {
        out->totals[car] = scores->cars[car].tally[BASIS_CORRECTED].total;
        out->positions[car] = scores->cars[car].position;
    }
}

static const char create_sql[] =
    "CREATE TABLE rate (early INTEGER NOT NULL, late INTEGER NOT NULL);"
    "CREATE TABLE reading (car INTEGER NOT NULL, point INTEGER NOT NULL, due INTEGER NOT NULL,"
    " read INTEGER NOT NULL, PRIMARY KEY (car, point)) WITHOUT ROWID;";

/* Due times are whole seconds, so that cutting off the reading's hundredths is enough. */
static const char score_sql[] =
    "SELECT car, total, RANK() OVER (ORDER BY total) FROM ("
    " SELECT car, sum(CASE WHEN read < due THEN (due - read / 1000 * 1000) / 1000 * early"
    "  ELSE (read - due) / 1000 * late END) AS total"
    " FROM reading, rate GROUP BY car)";

static sqlite3 *make_table(const struct times *times) {
    sqlite3 *db = NULL;
    sqlite3_stmt *insert = NULL;
    sqlite3_stmt *rate = NULL;
    must(sqlite3_open(":memory:", &db) == SQLITE_OK, "no table in memory");
    must(sqlite3_exec(db, create_sql, NULL, NULL, NULL) == SQLITE_OK, sqlite3_errmsg(db));
    must(sqlite3_prepare_v2(db, "INSERT INTO rate VALUES (?1, ?2)", -1, &rate, NULL) == SQLITE_OK &&
             sqlite3_bind_int(rate, 1, EARLY * 1000) == SQLITE_OK &&
             sqlite3_bind_int(rate, 2, LATE * 1000) == SQLITE_OK &&
             sqlite3_step(rate) == SQLITE_DONE,
         sqlite3_errmsg(db));
    (void)sqlite3_finalize(rate);
    must(sqlite3_prepare_v2(db, "INSERT INTO reading VALUES (?1, ?2, ?3, ?4)", -1, &insert, NULL) ==
             SQLITE_OK,
         sqlite3_errmsg(db));
    for (int car = 0; car < CARS; car++) {
        for (int p = 0; p < POINTS; p++) {
            (void)sqlite3_bind_int(insert, 1, car);
            (void)sqlite3_bind_int(insert, 2, p);
            (void)sqlite3_bind_int64(insert, 3, times->due[car][p]);
            (void)sqlite3_bind_int64(insert, 4, times->read[car][p]);
            must(sqlite3_step(insert) == SQLITE_DONE, sqlite3_errmsg(db));
            (void)sqlite3_reset(insert);
        }
    }
    (void)sqlite3_finalize(insert);
    return db;
}

static void score_sql_table(sqlite3_stmt *query, struct result *out) {
    int rc;
    while ((rc = sqlite3_step(query)) == SQLITE_ROW) {
        int car = sqlite3_column_int(query, 0);
        must(car >= 0 && car < CARS, "a car that is not there");
        out->totals[car] = sqlite3_column_int64(query, 1);
        out->positions[car] = sqlite3_column_int(query, 2);
    }
    must(rc == SQLITE_DONE, "the statement failed");
    (void)sqlite3_reset(query);
}

static void fill(struct times *times) {
    for (int car = 0; car < CARS; car++) {
        for (int p = 0; p < POINTS; p++) {
            times->due[car][p] = due_ms(car + 1, p + 1);
            times->read[car][p] = read_ms(car + 1, p + 1);
        }
    }
}

static int64_t checksum(const struct result *r) {
    int64_t sum = 0;
    for (int car = 0; car < CARS; car++)
        sum += r->totals[car] / 1000 * (car + 1) + r->positions[car];
    return sum;
}

int main(void) {
    static struct times times;
    static struct result simple;
    static struct result whole;
    static struct result sql;
    struct sample simple_us = {0};
    struct sample whole_us = {0};
    struct sample sql_us = {0};
    struct sample simple_ratio = {0};
    struct sample whole_ratio = {0};
    struct scorer scorer;
    struct scores *scores = NULL;
    struct scores *room = NULL;
    struct view *view = NULL;
    sqlite3_stmt *query = NULL;
    fill(&times);
    struct model *model = make_event();
    struct penalty_rule rule = model->rules->items[0].rule;
    must(view_new(&model->event, (struct view_request){.after = -1}, &view) == ERR_OK &&
             scores_new(&model->event, view, &scores) == ERR_OK &&
             scores_new(&model->event, view, &room) == ERR_OK &&
             scorer_init(&scorer, &model->event) == ERR_OK,
         "out of memory");
    sqlite3 *db = make_table(&times);
    must(sqlite3_prepare_v2(db, score_sql, -1, &query, NULL) == SQLITE_OK, sqlite3_errmsg(db));
    for (int round = 0; round < ROUNDS; round++) {
        double t0 = now_seconds();
        for (int i = 0; i < 200; i++)
            score_simple(&times, &rule, room, &simple);
        double t1 = now_seconds();
        for (int i = 0; i < 10; i++)
            score_whole(scores, &scorer, &whole);
        double t2 = now_seconds();
        for (int i = 0; i < 5; i++)
            score_sql_table(query, &sql);
        double t3 = now_seconds();
        sample_add(&simple_us, (t1 - t0) * 1e6 / 200);
        sample_add(&whole_us, (t2 - t1) * 1e6 / 10);
        sample_add(&sql_us, (t3 - t2) * 1e6 / 5);
        sample_add(&simple_ratio, (t3 - t2) / 5 / ((t1 - t0) / 200));
        sample_add(&whole_ratio, (t3 - t2) / 5 / ((t2 - t1) / 10));
    }
    must(memcmp(&simple, &sql, sizeof sql) == 0, "the simple scoring and SQL differ");
    must(memcmp(&whole, &sql, sizeof sql) == 0, "the whole scoring and SQL differ");
    FILE *f = figures_open("2-simple");
    const struct aim none = {SENSE_NONE, 0};
    (void)printf("The same simplified scoring, %d cars x %d controls (check %lld)\n", CARS, POINTS,
                 (long long)checksum(&sql));
    figure(f, "simplified scoring", "us", none, &simple_us, "deviation x rate, sum, rank");
    figure(f, "whole scoring of the same", "us", none, &whole_us, "every rule looked at");
    figure(f, "SQL of the same", "us", none, &sql_us, "SQLite in memory, one statement");
    figure(f, "simplified scoring ahead of SQL", "x", (struct aim){SENSE_LEAST, 50}, &simple_ratio,
           "same sums and places");
    figure(f, "whole scoring ahead of SQL", "x", none, &whole_ratio, "same sums and places");
    (void)sqlite3_finalize(query);
    (void)sqlite3_close(db);
    scores_free(room);
    scores_free(scores);
    scorer_clear(&scorer);
    view_free(view);
    model_free(model);
    return fclose(f) == 0 ? 0 : 1;
}
