/* SPDX-License-Identifier: MIT */
/* kind.h - what each kind of route item is: one struct kind for each, in a file of its own in
 * scoring/kinds/. How to add one: DEVELOPERS.md, "A kind of test". */
#ifndef CAIRN_KIND_H
#define CAIRN_KIND_H

#include "event/rules.h"

struct bid;
struct json_place;
struct json_reader;
struct json_t;
struct reading;
struct score_sheet;
struct textbuf;
struct scored_point;
struct explain_context;

/* What the faults of a kind are charged to: the point at which they were told, outside its cap; the
 * test's sum, outside the laps' caps and cleanness; the attempt, under its cap, as the kind itself
 * says (there a fault may be worth "maximum"). */
enum fault_home { FAULTS_AT_POINT, FAULTS_BESIDE_LAPS, FAULTS_OF_ATTEMPT };

struct kind {
    const char *name;  /* in event.json */
    const char *words; /* for people */
    bool is_test;
    bool may_hide;           /* `reveal` is a key of it */
    bool hides;              /* hidden until closed, unless `reveal` is another */
    enum fault_home faults;  /* what its faults are charged to */
    const char *const *keys; /* its own keys in event.json, NULL-terminated */

    size_t own_size; /* bytes of the struct that `item->own` points to; 0 where it has none */

    /* Reads its own keys into `own` (own_size bytes, zeroed) and, where they concern it, into
     * `item`, whose common part is set. Wrong values are reported. NULL for a kind without keys. */
    void (*read)(const struct json_reader *reader, const struct json_t *object,
                 const struct json_place *place, struct item *item, void *own);

    /* Adds its points to the route with route_add_point, see route.h. Returns ERR_OK or ERR_NOMEM.
     */
    int (*lay_out)(struct rules *rules, int item);

    /* Why a reading cannot be taken at a point of this kind; returns NULL where it can. NULL for a
     * kind that takes every reading: call kind_refusal. */
    const char *(*refusal)(const struct item *item, const struct point *point,
                           const struct reading *reading);

    /* Scores the item for the sheet's car: fills each of its scored points. */
    void (*score)(struct score_sheet *sheet, const struct item *item);

    /* What a car, whatever the sheet's is, can be the best with at a test whose cars are compared
     * with the best of them (item->seeks_best); see scoring/bests.h. With max_lateness_holds the
     * sheet must be that car's, scored. `value` is TIME_NONE where it has nothing. NULL for other
     * kinds. */
    struct bid (*bid)(const struct score_sheet *sheet, const struct item *item, int car);

    /* The time by which cars of equal penalty are compared (time:ID), ms; TIME_NONE where the car
     * has none. The item is scored. NULL for a kind without such a time. */
    int64_t (*tie_time)(const struct score_sheet *sheet, const struct item *item);

    /* Explains how one scored point came about, from the values that made it. */
    void (*explain)(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp);

    /* Appends, behind what a missed or absent point costs, what that follows from where it is not
     * the rule's `missed` alone (scored_point.own_missed): " (…)". NULL where there is no such
     * thing. */
    void (*explain_missed)(struct textbuf *b, const struct explain_context *context);
};

/* The struct of a kind. */
const struct kind *kind_of(enum kind_id id);

/* The name of a kind, as in event.json: "time-control". */
const char *kind_name(enum kind_id kind);

/* Why a reading cannot be taken at a point of an item; NULL where it can. */
const char *kind_refusal(const struct item *item, const struct point *point,
                         const struct reading *reading);

/* The kind of a name in event.json. Returns ERR_OK or ERR_UNKNOWN. */
int kind_parse(const char *name, enum kind_id *out);

/* Each in the file of its name in scoring/kinds/. */
extern const struct kind kind_time_control;
extern const struct kind kind_passage_control;
extern const struct kind kind_regularity;
extern const struct kind kind_set_time;
extern const struct kind kind_special_test;
extern const struct kind kind_consistency;

#endif
