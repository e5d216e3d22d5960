/* SPDX-License-Identifier: MIT */
/* road_events.h - small events on the road: what stands at some of their points. Car 1 starts at
 * 08:01, car 2 at 08:02, car 5 at 08:05. */
#ifndef CAIRN_ROAD_EVENTS_H
#define CAIRN_ROAD_EVENTS_H

#include <stdlib.h>
#include <string.h>

#include "base/textbuf.h"
#include "scene.h"
#include "testing.h"

#define DEFAULTS                                                                                   \
    "'defaults': {'time-control': {'precision': 'minute', 'early': 60, 'late': 15, 'missed': "     \
    "100}, 'passage-control': {'missed': 30}, 'regularity': {'cap': 60, 'missed': 50}, "           \
    "'set-time': {'missed': 40}, 'special-test': {'missed': 70}, 'consistency': {'missed': 20}}"
#define SCHEDULED "{'timing': 'scheduled', " DEFAULTS "}"
#define TARGET "{" DEFAULTS "}"
#define HOLDS                                                                                      \
    "{'timing': 'scheduled', 'max_lateness': '00:30:00', 'max_lateness_holds': true, " DEFAULTS "}"
#define SUMMED(more) "{'max_lateness': '00:30:00', 'lateness': 'cumulative'" more ", " DEFAULTS "}"

#define CONTROL(id, target, more)                                                                  \
    "{'day': 1, 'id': '" id "', 'kind': 'time-control', 'target': '" target "'" more "}"
#define SECTION(id, more)                                                                          \
    "{'day': 1, 'id': '" id "', 'kind': 'regularity', 'start': 'control', 'checks': [{'ideal': "   \
    "'00:05:00'}, {'ideal': '00:10:00'}]" more "}"
#define FINISH ", 'finish': 'control', 'target': '00:10:00'"

/* 30 min to TC1, a regularity of 10 min whose finish is on the road, 20 min to TC2. */
#define FINISH_ROUTE                                                                               \
    CONTROL("TC1", "00:30", "") ", " SECTION("R1", FINISH) ", " CONTROL("TC2", "00:20", "")

struct folder {
    const char *scoring;
    const char *route;
    const char *readings;  /* rows of point,car,time,elapsed */
    const char *decisions; /* rows of kind,car,point,value,reason */
    struct viewpoint viewpoint;
};

/* Rows of readings, those without all four fields completed. */
static inline void write_readings(struct textbuf *b, const char *rows) {
    int fields = 1;
    textbuf_puts(b, "point,car,time,elapsed\n");
    for (const char *c = rows; *c != '\0'; c++) {
        for (; *c == '\n' && fields < 4; fields++)
            textbuf_putc(b, ',');
        fields = *c == '\n' ? 1 : fields + (*c == ',');
        textbuf_putc(b, *c);
    }
}

static inline void open_folder(struct scene *scene, struct folder f) {
    struct textbuf rules = {0};
    struct textbuf readings = {0};
    struct textbuf decisions = {0};
    textbuf_printf(&rules, RULES("%s", "%s", "%s"),
                   "{'scheme': 'fiva', 'groups': [{'id': 'tour', 'name': 'Tour'}]}", f.scoring,
                   f.route);
    write_readings(&readings, f.readings);
    textbuf_printf(&decisions, "kind,car,point,value,reason\n%s",
                   f.decisions == NULL ? "" : f.decisions);
    struct event_text texts = {.rules = textbuf_text(&rules),
                               .entries = "number,driver,navigator,make,model,year,groups\n"
                                          "1,A. Alder,,Calder,Six,1925,\n"
                                          "2,C. Birch,,Thornbeck,Ten,1934,\n"
                                          "5,D. Cedar,,Garrodine,Sport,1955,tour\n",
                               .readings = textbuf_text(&readings),
                               .decisions = textbuf_text(&decisions)};
    scene_open(scene, &texts, f.viewpoint);
    textbuf_clear(&rules);
    textbuf_clear(&readings);
    textbuf_clear(&decisions);
}

/* What must be at one point. */
struct expected {
    int car;
    const char *point;
    enum state state;
    int64_t penalty;  /* points */
    const char *due;  /* NULL: not looked at */
    enum cause cause; /* of a missed one */
};

static inline void assert_points(const struct scene *scene, const struct expected *rows,
                                 size_t count) {
    for (size_t i = 0; i < count; i++) {
        const struct expected *e = &rows[i];
        struct scored_point sp = scene_point(scene, e->car, e->point);
        struct textbuf due = {0};
        if (sp.due != TIME_NONE)
            time_write_short(&due, sp.due);
        if (sp.state != e->state || sp.penalty != e->penalty * 1000 ||
            (e->state == STATE_MISSED && sp.cause != e->cause) ||
            (e->due != NULL && strcmp(textbuf_text(&due), e->due) != 0))
            fail_msg("car %d at %s: %s, %lld, due %s, cause %d", e->car, e->point,
                     state_word(sp.state), (long long)sp.penalty, textbuf_text(&due), sp.cause);
        textbuf_clear(&due);
    }
}

static inline void check(struct folder f, const struct expected *rows, size_t count) {
    struct scene scene;
    open_folder(&scene, f);
    assert_points(&scene, rows, count);
    scene_close(&scene);
}

#define CHECK(folder_, ...)                                                                        \
    do {                                                                                           \
        const struct expected rows_[] = {__VA_ARGS__};                                             \
        check(folder_, rows_, COUNT_OF(rows_));                                                    \
    } while (0)

static inline void assert_why(struct folder f, int car, const char *point, const char *expected) {
    struct scene scene;
    open_folder(&scene, f);
    char *why = scene_why(&scene, car, point);
    assert_string_equal(why, expected);
    free(why);
    scene_close(&scene);
}

#endif
