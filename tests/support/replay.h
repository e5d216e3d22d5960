/* SPDX-License-Identifier: MIT */
/* replay.h - the facts of one event fed to another in some order, and all that an event shows. */
#ifndef CAIRN_TESTS_REPLAY_H
#define CAIRN_TESTS_REPLAY_H

#include "base/textbuf.h"
#include "case_folders.h"
#include "scene.h"

/* An event folder that can be read, in memory and as an event. */
struct replay {
    struct case_folder folder;
    struct model *model;
};

void replay_open(struct replay *replay, const char *path);
void replay_close(struct replay *replay);

/* A fresh event of the same folder without any reading or decision. The caller frees it. */
struct model *replay_blank(const struct replay *replay);

/* Adds the `index`th reading or decision of `from`; it must be taken, or be a duplicate where
 * `again` says so. */
void replay_reading(struct model *to, const struct model *from, size_t index, bool again);
void replay_decision(struct model *to, const struct model *from, size_t index, bool again);

/* Settles decisions and rulings after some were added. */
void replay_settle(struct model *model);

/* A fresh event with all facts of the folder, added in these orders (NULL: as they came). */
struct model *replay_in_order(const struct replay *replay, const size_t *readings,
                              const size_t *decisions);

/* Appends every table in every form, then the cards of all cars, or of each `cars`th where that is
 * not negative. */
void show_all(struct textbuf *out, struct model *model, struct viewpoint viewpoint, int cars);

/* The same in JSON and CSV only, without the tables of text. */
void show_data(struct textbuf *out, struct model *model, struct viewpoint viewpoint, int cars);

/* Fails with the first line that differs. `what` says what was compared. */
void assert_same_show(const struct textbuf *a, const struct textbuf *b, const char *what);

/* show_all of two events compared. */
void assert_events_show_the_same(struct model *a, struct model *b, struct viewpoint viewpoint,
                                 int cars, const char *what);

#endif
