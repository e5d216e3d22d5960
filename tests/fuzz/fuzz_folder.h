/* SPDX-License-Identifier: MIT */
/* fuzz_folder.h - for the fuzz targets: a small good event of which one file is the fuzzer's.
 * Whatever is accepted must score, in every view, and print. */
#ifndef CAIRN_TESTS_FUZZ_FOLDER_H
#define CAIRN_TESTS_FUZZ_FOLDER_H

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "event/event.h"
#include "event/export.h"
#include "office/check.h"
#include "output/output.h"

static const char fuzz_rules[] =
    "{\"name\":\"Fell Trial\",\"slug\":\"fell\",\"timezone\":\"UTC\",\"unit\":\"km\","
    "\"days\":[{\"date\":\"2027-05-20\",\"first_start\":\"08:01\",\"interval\":\"60\"},"
    "{\"date\":\"2027-05-21\",\"first_start\":\"08:01\",\"interval\":\"60\",\"order\":\"sequence\"}"
    "],"
    "\"classes\":{\"scheme\":\"fiva\",\"capacity\":[{\"id\":\"1\",\"to\":1600},{\"id\":\"2\"}]},"
    "\"scoring\":{\"drop_worst\":{\"count\":1},\"teams\":{\"count\":1},"
    "\"ties\":[\"first-difference\",\"most-clean\"],\"coefficient\":{\"by\":\"year\"}},"
    "\"route\":[{\"day\":1,\"id\":\"TC1\",\"kind\":\"time-control\",\"target\":\"00:45\"},"
    "{\"day\":1,\"id\":\"PC1\",\"kind\":\"passage-control\"},"
    "{\"day\":1,\"id\":\"R1\",\"kind\":\"regularity\",\"measured\":\"previous\",\"start\":"
    "\"control\","
    "\"speeds\":[{\"from\":0,\"speed\":48}],\"checks\":[{\"at\":5.37},{\"at\":9.02}]},"
    "{\"day\":1,\"id\":\"T1\",\"kind\":\"set-time\",\"targets\":[\"11.70\",\"9\"]},"
    "{\"day\":2,\"id\":\"S1\",\"kind\":\"special-test\",\"bogey\":\"70\",\"maximum\":\"180\","
    "\"method\":\"behind-best\",\"faults\":{\"cone\":5,\"wrong-route\":\"maximum\"}},"
    "{\"day\":2,\"id\":\"L1\",\"kind\":\"consistency\",\"laps\":3,\"reference\":\"mean\","
    "\"faults\":{\"cone\":2}}]}";
static const char fuzz_entries[] =
    "number,driver,navigator,make,model,year,engine_cc,supercharged,team\n"
    "1,Ann Alder,Bob Alder,Calder,Six,1925,1990,yes,Moor\n"
    "2,Cai Birch,,Thornbeck,Ten,1934,,,Moor\n"
    "22,Dot Cedar,Eli Cedar,Garrodine,Sport,1955,1500,no,Fell\n";
static const char fuzz_readings[] = "point,car,time,elapsed,faults,id,at,by,replaces,void,reason\n"
                                    "TC1,1,08:46:22,,,a1,2027-05-20T08:46:39+00:00,,,,\n"
                                    "R1/1,1,08:54:00,,,,,,,,\n"
                                    "S1/finish,22,,83.45,cone=2,,,,,,\n";
static const char fuzz_decisions[] = "kind,car,point,value,reason,id\n"
                                     "retire,2,TC1,,axle,d1\n"
                                     "close,,day:1,,over,d2\n";

/* Scores an event in one view and prints all it has; aborts where something is not as it must. */
static inline void fuzz_score(const struct event *event, bool live, bool public_view) {
    struct view *view = NULL;
    struct scores *scores = NULL;
    struct view_request request = {live, public_view, -1};
    if (view_new(event, request, &view) == ERR_OK && scores_new(event, view, &scores) == ERR_OK) {
        struct output_head head = {view_status(view), 0, NULL};
        struct textbuf b = {0};
        for (int by = 0; by < BY_COUNT; by++) {
            struct standings *st = NULL;
            if (standings_new(scores, (enum standings_by)by, &st) != ERR_OK)
                continue;
            output_standings_json(&b, st, &head);
            output_standings_csv(&b, st, &head);
            output_standings_text(&b, st, &head);
            standings_free(st);
        }
        for (int car = 0; car < event->entries->count && car < 4; car++) {
            output_card_json(&b, scores, car, &head);
            output_card_text(&b, scores, car, &head);
        }
        if (!b.failed && strlen(textbuf_text(&b)) != b.len)
            abort();
        textbuf_clear(&b);
    }
    scores_free(scores);
    view_free(view);
}

static inline int fuzz_folder(const struct event_files *files) {
    struct problems problems = {0};
    struct model *model = NULL;
    int err = model_read(files, &problems, &model);
    if (err == ERR_OK) {
        if (problems_fatal(&problems))
            abort();
        (void)check_event(model, &problems);
        fuzz_score(&model->event, false, false);
        fuzz_score(&model->event, true, false);
        fuzz_score(&model->event, true, true);
        struct textbuf b = {0};
        (void)export_readings(model->readings, &b);
        (void)export_unassigned(model->readings, &b);
        (void)export_decisions(model->decisions, &b);
        textbuf_clear(&b);
    } else if (err == ERR_INPUT && !problems_fatal(&problems)) {
        abort(); /* refused, and nobody is told why */
    }
    model_free(model);
    problems_clear(&problems);
    return 0;
}

static inline struct event_files fuzz_files(void) {
    return (struct event_files){.rules = {fuzz_rules, sizeof fuzz_rules - 1},
                                .entries = {fuzz_entries, sizeof fuzz_entries - 1},
                                .readings = {fuzz_readings, sizeof fuzz_readings - 1},
                                .decisions = {fuzz_decisions, sizeof fuzz_decisions - 1}};
}

#endif
