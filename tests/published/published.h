/* SPDX-License-Identifier: MIT */
/* published.h - a tiny event told in a few lines of text, scored, and looked at.
 * For the tests that hold the library against rules and worked examples that others published.
 * Nothing here reckons: every figure comes out of the library as text.
 *
 * Each test names its source beside the check, and how far it can be trusted:
 *   R  read in the archived text of the page
 *   S  a secondary source: press, forum, a club's page quoting a rule
 *   D  arithmetic derived from a rule marked R or S
 *   M  from memory */
#ifndef CAIRN_PUBLISHED_H
#define CAIRN_PUBLISHED_H

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/event.h"
#include "office/check.h"
#include "scoring/scoring.h"
#include "scoring/standings.h"

/* Parts of event.json with ' for ", and CSV files as they are. NULL takes what stands below:
 * kilometres, one day whose cars start a minute apart with car 1 at 10:00, FIVA classes, plain
 * rules, one control, car 1 of 1960, no readings, no decisions. */
struct folder {
    const char *unit;
    const char *days;
    const char *classes;
    const char *scoring;
    const char *route;
    const char *entries;
    const char *readings;
    const char *decisions;
};

/* One event, scored with every point closed. Owner: the test, see trial_close. */
struct trial {
    struct problems problems;
    struct model *model;
    struct view *view;
    struct scores *scores;
};

/* The first columns of entries.csv, in which every crew drives the same invented make. */
#define ENTRIES "number,driver,navigator,make,model,year"
#define CREW ",A. Thorne,M. Vale,Calder,Six,"

/* A text in one of a few places that are used in turn: it lives for the next few lookups. */
static inline const char *kept(struct textbuf *b) {
    static char places[8][320];
    static size_t next;
    char *place = places[next++ % 8];
    assert_false(b->failed);
    assert_true(b->len < sizeof places[0]);
    (void)snprintf(place, sizeof places[0], "%s", textbuf_text(b));
    textbuf_clear(b);
    return place;
}

static inline void write_json_part(struct textbuf *b, const char *key, const char *part,
                                   const char *otherwise) {
    textbuf_printf(b, ",\"%s\":", key);
    for (const char *p = part != NULL ? part : otherwise; *p != '\0'; p++) {
        if (*p == '\'')
            textbuf_putc(b, '"');
        else
            textbuf_putc(b, *p);
    }
}

static inline struct file_text file_of(const char *text) {
    return (struct file_text){text, text == NULL ? 0 : strlen(text)};
}

/* Reads the folder. Returns what model_read returned. */
static inline int event_folder_read(const struct folder *f, struct problems *problems,
                                    struct model **out) {
    struct textbuf rules = {0};
    textbuf_puts(&rules,
                 "{\"name\":\"A trial\",\"slug\":\"trial\",\"timezone\":\"Atlantic/Azores\"");
    write_json_part(&rules, "unit", f->unit, "'km'");
    write_json_part(&rules, "days", f->days,
                    "[{'date':'2027-05-20','first_start':'10:00','interval':'00:01:00'}]");
    write_json_part(&rules, "classes", f->classes, "{'scheme':'fiva'}");
    write_json_part(&rules, "scoring", f->scoring, "{}");
    write_json_part(&rules, "route", f->route,
                    "[{'day':1,'id':'TC1','kind':'time-control','name':'Saltmill',"
                    "'target':'01:00:00'}]");
    textbuf_putc(&rules, '}');
    assert_false(rules.failed);
    struct event_files files = {
        .rules = file_of(textbuf_text(&rules)),
        .entries = file_of(f->entries != NULL ? f->entries : ENTRIES "\n1" CREW "1960\n"),
        .readings = file_of(f->readings),
        .decisions = file_of(f->decisions),
    };
    int err = model_read(&files, problems, out);
    textbuf_clear(&rules);
    return err;
}

/* Reads and scores; the test fails where a file or a row was not taken. */
static inline void trial_open(struct trial *t, struct folder f) {
    memset(t, 0, sizeof *t);
    int err = event_folder_read(&f, &t->problems, &t->model);
    if (t->problems.count > 0)
        fail_msg("%s: %s", t->problems.list[0].place, t->problems.list[0].text);
    assert_int_equal(err, ERR_OK);
    assert_int_equal(view_new(&t->model->event, (struct view_request){.after = -1}, &t->view),
                     ERR_OK);
    assert_int_equal(scores_new(&t->model->event, t->view, &t->scores), ERR_OK);
}

static inline void trial_close(struct trial *t) {
    scores_free(t->scores);
    view_free(t->view);
    model_free(t->model);
    problems_clear(&t->problems);
}

static inline int car_place(const struct trial *t, int number) {
    int place = entries_find(t->model->entries, number);
    assert_true(place >= 0);
    return place;
}

/* The car's result as a whole. */
static inline const struct car_score *score_of(const struct trial *t, int number) {
    return &t->scores->cars[car_place(t, number)];
}

/* A scored point, by its id as on the card. */
static inline struct scored_point working_at(const struct trial *t, int number, const char *point) {
    const struct rules *rules = t->model->rules;
    int found = -1;
    for (int i = 0; i < rules->scored_count; i++) {
        if (strcmp(rules->scored[i].id, point) == 0)
            found = i;
    }
    if (found < 0)
        fail_msg("no scored point %s", point);
    struct score_sheet sheet;
    assert_int_equal(scores_sheet(t->scores, car_place(t, number), &sheet), ERR_OK);
    struct scored_point one = sheet.scored[found];
    score_sheet_clear(&sheet);
    return one;
}

static inline const char *decimal_text(int64_t thousandths) {
    struct textbuf b = {0};
    decimal_write_short(&b, thousandths);
    return kept(&b);
}

static inline const char *time_text(int64_t ms) {
    struct textbuf b = {0};
    time_write(&b, ms, 0);
    return kept(&b);
}

/* What a point costs: "1.5". */
static inline const char *penalty_at(const struct trial *t, int number, const char *point) {
    return decimal_text(working_at(t, number, point).penalty);
}

/* "clean", "missed" and so on. */
static inline const char *state_at(const struct trial *t, int number, const char *point) {
    return state_word(working_at(t, number, point).state);
}

/* When the car is due, and how far off it was: "11:57:00", "-00:01:00". */
static inline const char *due_at(const struct trial *t, int number, const char *point) {
    return time_text(working_at(t, number, point).due);
}

static inline const char *actual_at(const struct trial *t, int number, const char *point) {
    return time_text(working_at(t, number, point).actual);
}

static inline const char *deviation_at(const struct trial *t, int number, const char *point) {
    return time_text(working_at(t, number, point).deviation);
}

/* The car's total, coefficient and all. */
static inline const char *total_of(const struct trial *t, int number) {
    return decimal_text(score_of(t, number)->tally[BASIS_CORRECTED].total);
}

/* Its place overall, and whether others share it: "2", "2=", "-" where it has none. */
static inline const char *place_of(const struct trial *t, int number) {
    const struct car_score *score = score_of(t, number);
    struct textbuf b = {0};
    if (score->position == 0)
        textbuf_putc(&b, '-');
    else
        textbuf_printf(&b, "%d%s", score->position, score->equal ? "=" : "");
    return kept(&b);
}

/* The class of a car of that year, engine (NULL: not told) and so on; "none" where the car is
 * refused for want of a period. */
static inline const char *class_of_car(const char *classes, int year, const char *engine_cc,
                                       bool supercharged) {
    struct textbuf entries = {0};
    struct textbuf id = {0};
    struct problems problems = {0};
    struct model *model = NULL;
    textbuf_printf(&entries, ENTRIES ",engine_cc,supercharged\n7" CREW "%d,%s,%s\n", year,
                   engine_cc == NULL ? "" : engine_cc, supercharged ? "yes" : "no");
    struct folder f = {.classes = classes, .entries = textbuf_text(&entries)};
    int err = event_folder_read(&f, &problems, &model);
    if (err == ERR_OK) {
        rules_class_id(model->rules, model->entries->list[0].class_index, &id);
    } else {
        assert_int_equal(problems.count, 1);
        assert_string_equal(problems.list[0].place, "entries.csv:2");
        assert_non_null(strstr(problems.list[0].text, "fits no period"));
        textbuf_puts(&id, "none");
    }
    model_free(model);
    problems_clear(&problems);
    textbuf_clear(&entries);
    return kept(&id);
}

/* The same by year alone. */
static inline const char *class_of_year(const char *classes, int year) {
    return class_of_car(classes, year, NULL, false);
}

/* The places of an event.json about which `cairn check` would ask, a blank between them; "" where
 * there are none. Doubts about entries and readings are left out. */
static inline const char *doubts_about(struct folder f) {
    struct trial t;
    struct problems doubts = {0};
    struct textbuf places = {0};
    const char *rules = "event.json: ";
    trial_open(&t, f);
    assert_int_equal(check_event(t.model, &doubts), ERR_OK);
    for (size_t i = 0; i < doubts.count; i++) {
        assert_int_equal(doubts.list[i].level, PROBLEM_DOUBT);
        if (strncmp(doubts.list[i].place, rules, strlen(rules)) == 0)
            textbuf_printf(&places, "%s%s", places.len > 0 ? " " : "",
                           doubts.list[i].place + strlen(rules));
    }
    problems_clear(&doubts);
    trial_close(&t);
    return kept(&places);
}

#endif
