/* SPDX-License-Identifier: MIT */
/* scene.h - an event, scored, as it is seen from somewhere; with ways to look at one car, one
 * point or a whole page of output. Whatever fails, fails the test. */
#ifndef CAIRN_TESTS_SCENE_H
#define CAIRN_TESTS_SCENE_H

#include "event_text.h"
#include "output/output.h"
#include "scoring/scoring.h"

/* From where it is seen. {0} is the end result: all closed, everything shown. */
struct viewpoint {
    bool live;
    bool public_view;
    const char *after; /* a point's id, NULL for the whole route */
};

struct scene {
    const struct event *event;
    struct model *model; /* to be freed with the scene; NULL where it is borrowed */
    struct view *view;
    struct scores *scores;
    const char *after;
};

enum form { FORM_JSON, FORM_CSV, FORM_TEXT, FORM_COUNT };

/* Reads and scores an event that must be good. */
void scene_open(struct scene *scene, const struct event_text *texts, struct viewpoint viewpoint);

/* Scores an event in hand, which is borrowed until scene_close. */
void scene_of(struct scene *scene, const struct event *event, struct viewpoint viewpoint);

void scene_close(struct scene *scene);

/* A car's score by its number. */
const struct car_score *scene_car(const struct scene *scene, int number);

/* A copy of one scored point, by car number and id of a scored point. */
struct scored_point scene_point(const struct scene *scene, int number, const char *id);

/* The explanation of that point. The caller frees it. */
char *scene_why(const struct scene *scene, int number, const char *id);

/* Standings or a card as the commands print them; the revision is 0. The caller frees them.
 * scene_standings gives NULL where the event has no such grouping. */
char *scene_standings(const struct scene *scene, enum standings_by by, enum form form);
char *scene_card(const struct scene *scene, int number, enum form form);

#endif
