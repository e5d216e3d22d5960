/* SPDX-License-Identifier: MIT */
/* trial.h - what the fuzz targets share: a small event with every kind of item, and what must hold
 * of any event that could be read: it scores, is set out and written in every way, and twice the
 * same. A broken promise traps, which the fuzzer reports as a crash. */
#ifndef CAIRN_FUZZ_TRIAL_H
#define CAIRN_FUZZ_TRIAL_H

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "check.h"
#include "err.h"
#include "event.h"
#include "export.h"
#include "output.h"
#include "problem.h"
#include "scoring.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Larger inputs only repeat themselves. */
enum { TRIAL_INPUT_MAX = 65536, TRIAL_CARDS_MAX = 4 };

static inline void must(bool holds) {
    if (!holds)
        __builtin_trap();
}

static inline struct file_text trial_file(const char *text) {
    return (struct file_text){text, text == NULL ? 0 : strlen(text)};
}

static const char trial_rules[] =
    "{\"name\":\"Fell Trial\",\"slug\":\"fell-trial\",\"timezone\":\"UTC\",\"unit\":\"km\","
    "\"days\":[{\"date\":\"2027-05-20\",\"first_start\":\"08:01\",\"interval\":60},"
    "{\"date\":\"2027-05-21\",\"first_start\":\"09:00\",\"interval\":60,\"order\":\"sequence\"}],"
    "\"classes\":{\"scheme\":\"fiva\",\"categories\":[{\"id\":\"open\"},"
    "{\"id\":\"touring\",\"overall\":false}],\"capacity\":[{\"id\":\"1\",\"to\":1600},"
    "{\"id\":\"2\"}],\"supercharged_factor\":\"1.4\"},"
    "\"scoring\":{\"timing\":\"scheduled\",\"max_lateness\":1800,\"coefficient\":{\"by\":\"year\","
    "\"apply\":\"test\"},\"drop_worst\":{\"count\":1},\"teams\":{\"count\":1},"
    "\"ties\":[\"most-clean\",\"furthest-clean\",\"first-difference\",\"test:S1\",\"older-car\","
    "\"smaller-engine\"],\"absent_day_cap\":500,\"finisher\":{\"share\":\"2/3\","
    "\"last_point\":true}},\"route\":["
    "{\"day\":1,\"id\":\"TC1\",\"kind\":\"time-control\",\"target\":2700,\"halt\":600},"
    "{\"day\":1,\"id\":\"PC1\",\"kind\":\"passage-control\",\"penalty\":{\"missed\":"
    "{\"fails\":1}}},"
    "{\"day\":1,\"id\":\"R1\",\"kind\":\"regularity\",\"start\":\"control\",\"start_after\":60,"
    "\"measured\":\"previous\",\"speeds\":[{\"from\":0,\"speed\":48}],\"checks\":[{\"at\":5.37},"
    "{\"at\":9.02}],\"penalty\":{\"grace\":1,\"cap\":60}},"
    "{\"day\":1,\"id\":\"T1\",\"kind\":\"set-time\",\"targets\":[11.7,9],\"test_cap\":50},"
    "{\"day\":2,\"id\":\"S1\",\"kind\":\"special-test\",\"bogey\":70,\"maximum\":180,\"method\":"
    "\"behind-best\",\"faults\":{\"cone\":5,\"wrong-route\":\"maximum\"}},"
    "{\"day\":2,\"id\":\"L1\",\"kind\":\"consistency\",\"laps\":3,\"reference\":\"mean\","
    "\"faults\":{\"stop\":20}},"
    "{\"day\":2,\"id\":\"TC2\",\"kind\":\"time-control\",\"target\":2700,\"main\":true}]}";

static const char trial_entries[] =
    "number,driver,navigator,make,model,year,engine_cc,category,team\n"
    "1,Ann Alder,Bob,Calder,Six,1925,1500,open,Withy\n"
    "2,Cai Birch,,Thornbeck,Ten,1934,3000,touring,Withy\n"
    "5,Dot Cedar,Eli,Garrodine,Sport,1955,,open,Alder\n";

static const char trial_readings[] =
    "point,car,time,elapsed\nTC1,1,08:46:10,\nTC1,2,08:48:10,\nTC1,5,08:50:10,\n"
    "R1/1,1,09:07:00,\nR1/2,1,09:12:00,\nT1/1,1,,11.655\nS1/finish,1,,70.5\nS1/finish,2,,72\n"
    "L1/1,1,,60\nL1/2,1,,61\nPC1,1,,\n";

/* Everything that can be shown of scores. */
static inline void trial_show(struct textbuf *b, const struct scores *scores) {
    struct output_head head = {view_status(scores->view), 1, NULL};
    int cars = scores->event->entries->count;
    for (int by = 0; by < BY_COUNT; by++) {
        struct standings *standings = NULL;
        if (standings_new(scores, (enum standings_by)by, &standings) != ERR_OK)
            continue;
        output_standings_json(b, standings, &head);
        output_standings_csv(b, standings, &head);
        output_standings_text(b, standings, &head);
        standings_free(standings);
    }
    for (int car = 0; car < cars && car < TRIAL_CARDS_MAX; car++) {
        output_card_json(b, scores, car, &head);
        output_card_csv(b, scores, car, &head);
        output_card_text(b, scores, car, &head);
    }
    must(!b->failed);
}

/* Scores the event from one view, twice. */
static inline void trial_look(const struct event *event, struct view_request request) {
    struct view *view = NULL;
    struct textbuf first = {0};
    struct textbuf second = {0};
    must(view_new(event, request, &view) == ERR_OK);
    for (int i = 0; i < 2; i++) {
        struct scores *scores = NULL;
        must(scores_new(event, view, &scores) == ERR_OK);
        trial_show(i == 0 ? &first : &second, scores);
        scores_free(scores);
    }
    must(first.len == second.len && memcmp(first.bytes, second.bytes, first.len) == 0);
    textbuf_clear(&first);
    textbuf_clear(&second);
    view_free(view);
}

/* What was exported reads back whole, and exports the same. */
static inline void trial_export(const struct event *event, const struct event_files *files) {
    struct textbuf readings = {0};
    struct textbuf decisions = {0};
    struct textbuf readings_again = {0};
    struct textbuf decisions_again = {0};
    struct problems problems = {0};
    struct event *again = NULL;
    must(export_readings(event->readings, &readings) == ERR_OK);
    must(export_decisions(event->decisions, &decisions) == ERR_OK);
    struct event_files exported = *files;
    exported.readings = (struct file_text){readings.bytes, readings.len};
    exported.decisions = (struct file_text){decisions.bytes, decisions.len};
    must(event_read(&exported, &problems, &again) == ERR_OK);
    must(problems.by_level[PROBLEM_REFUSED] == 0);
    must(export_readings(again->readings, &readings_again) == ERR_OK);
    must(export_decisions(again->decisions, &decisions_again) == ERR_OK);
    must(strcmp(readings.bytes, readings_again.bytes) == 0);
    must(strcmp(decisions.bytes, decisions_again.bytes) == 0);
    event_free(again);
    problems_clear(&problems);
    textbuf_clear(&readings);
    textbuf_clear(&decisions);
    textbuf_clear(&readings_again);
    textbuf_clear(&decisions_again);
}

/* Reads an event; where it can be read, everything must work on it. Where it cannot, there must be
 * an error that says why, with a place. */
static inline void trial_run(const struct event_files *files) {
    struct problems problems = {0};
    struct event *event = NULL;
    int err = event_read(files, &problems, &event);
    must(err == ERR_OK || err == ERR_INPUT);
    must((err == ERR_OK) == (event != NULL));
    must((err == ERR_INPUT) == problems_fatal(&problems));
    for (size_t i = 0; i < problems.count; i++)
        must(problems.list[i].place[0] != '\0' && problems.list[i].text[0] != '\0');
    if (event != NULL) {
        must(check_event(event, &problems) == ERR_OK);
        trial_look(event, (struct view_request){false, false, -1});
        trial_look(event, (struct view_request){true, false, -1});
        trial_look(event, (struct view_request){true, true, event->rules->item_count / 2});
        trial_export(event, files);
    }
    event_free(event);
    problems_clear(&problems);
}

#endif
