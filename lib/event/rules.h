/* SPDX-License-Identifier: MIT */
/* rules.h - what event.json says: the event, its classes, its scoring rules and its route.
 * Immutable once read. Every time is in milliseconds, every penalty, coefficient, distance and
 * speed in thousandths (of a point, of one, of the event's unit). Source of every rule: the
 * contract, section 3. */
#ifndef CAIRN_RULES_H
#define CAIRN_RULES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/strmap.h"
#include "base/times.h"
#include "event/grouping.h"

struct arena;
struct gate;
struct problems;
struct textbuf;

/* Limits of one event; an event.json past them is refused with its place. */
enum {
    RULE_ID_MAX = 32,
    DAYS_MAX = 31,
    PARTS_MAX = 200,
    GROUPS_MAX = 64, /* bits of an entry's `groups` */
    ITEMS_MAX = 2000,
    AWARDS_MAX = 200
};

/* Most fails that one rule says; and the largest sum of fails: a larger one is cut to it. */
enum { FAILS_MAX = 1000, FAILS_SUM_MAX = 1000000000 };

/* "No cap". */
#define CAP_NONE INT64_MAX

struct day {
    const char *date; /* YYYY-MM-DD */
    int64_t first_start;
    int64_t interval;
    bool sequence; /* order by sequence, not by number */
};

struct period {
    const char *id;
    const char *name;
    int from; /* first year, INT_MIN where open */
    int to;   /* last year, INT_MAX where open */
    bool overall;
};

struct capacity {
    const char *id;
    int64_t to; /* cc, inclusive; INT64_MAX for the last one */
};

struct category {
    const char *id;
    const char *name;
    bool overall;
    bool classes; /* its cars are in class standings */
};

/* A group of cars: an entry names any number of them, such as "ladies" and "low". */
struct car_group {
    const char *id;
    const char *name;
};

/* The two sides of a due time. */
enum side { SIDE_EARLY, SIDE_LATE, SIDE_COUNT };

/* How a deviation is charged. */
enum charge {
    CHARGE_RATE,  /* so much for each unit */
    CHARGE_FAILS, /* fails, once, for a deviation of any unit */
    CHARGE_ONCE,  /* so much, once, for any deviation */
    CHARGE_STEPS  /* the first units at one rate, the next ones at another */
};

/* The units of a deviation up to `to`, behind those of the step before. */
struct rate_step {
    int64_t to; /* ms; INT64_MAX in the last step */
    int64_t rate;
};

/* What deviation costs at a point. What every deviation is priced by stands first, and together. */
struct penalty_rule {
    int64_t precision; /* a unit of time, see base/times.h */
    int64_t per;
    int64_t rate[SIDE_COUNT]; /* CHARGE_RATE: per unit; CHARGE_ONCE: once; else unused */
    int64_t grace;
    int64_t cap[SIDE_COUNT]; /* CAP_NONE where open */
    bool charged_otherwise;  /* `part`, or a side that is not charged by CHARGE_RATE */
    bool grace_deducted;
    bool part;           /* a unit begun counts as whole */
    bool cap_is_one;     /* it was given as one figure, and holds early and late together */
    bool per_given;      /* else `per` follows `precision` */
    bool own;            /* of a check or pad itself, not the item's */
    bool missed_maximum; /* special tests: as much as the test's maximum; missed and fails are 0 */
    int64_t late_limit;  /* a deviation beyond it is as a missed point; TIME_NONE: no limit */
    int64_t early_limit; /* likewise */
    int64_t missed;
    int missed_fails;
    enum charge charge[SIDE_COUNT];
    int fails[SIDE_COUNT];                     /* CHARGE_FAILS; else 0 */
    const struct rate_step *steps[SIDE_COUNT]; /* CHARGE_STEPS; else unused */
};

/* What a fault is worth: a penalty or fails for each, the point missed, or the test's maximum; or
 * it is none for these cars, and only other cars' values of the item name it. */
enum fault_worth { FAULT_PENALTY, FAULT_FAILS, FAULT_MISSED, FAULT_MAXIMUM, FAULT_NOT_NAMED };

/* A fault that an item names. */
struct fault_rule {
    const char *name;
    enum fault_worth worth;
    int fails;       /* for each; 0 unless worth fails */
    int64_t penalty; /* for each; 0 unless worth a penalty */
};

/* So many of a fault, as told with a reading or by a decision; 0 is none. */
enum { FAULT_COUNT_MAX = 999 };

struct fault_count {
    int fault; /* place among its item's faults */
    int count;
};

/* The kinds of items on the route, see event/kind.h. */
enum kind_id {
    KIND_TIME_CONTROL,
    KIND_PASSAGE_CONTROL,
    KIND_REGULARITY,
    KIND_SET_TIME,
    KIND_SPECIAL_TEST,
    KIND_CONSISTENCY,
    KIND_COUNT
};

/* What a point is to its item. */
enum point_role {
    POINT_ARRIVAL,
    POINT_DEPARTURE,
    POINT_PASSAGE,
    POINT_START,
    POINT_CHECK, /* a check of a regularity, a pad of a set-time test */
    POINT_FINISH,
    POINT_LAP,
    POINT_NOMINATED
};

/* Where a reading can be made. Points stand in route order. */
struct point {
    const char *id;
    int item;
    enum point_role role;
    int number; /* of a check, pad or lap, or of one of several attempts, from 1; else 0 */
    int scored; /* its scored point, -1 where it has none of its own */
    const struct gate *gate; /* where it is on the ground; NULL where event.json does not say */
};

/* What is scored. */
struct scored {
    const char *id; /* the point's, or the item's: see route.h */
    int item;
    int point; /* the reading point by which it is scored */
};

/* An item's place on the road's schedule, see event/schedule.h. */
struct schedule {
    bool on;             /* it is on it: a time control, or a test whose last point is */
    bool targeted;       /* a test: `target` is given */
    bool main;           /* a main control: lateness is not carried past it */
    bool early_from_due; /* scheduled timing: early is measured against due */
    int64_t target;      /* ms allowed from the control or road point before */
    int64_t halt;        /* ms of rest there */
    int64_t shortest;    /* ms from there that a car must take, TIME_NONE */
};

/* One line of the route. What scoring reads of every item stands first, and together. */
struct item {
    int place; /* on the route, from 0 */
    int day;   /* from 0 */
    enum kind_id kind;
    int first_point, point_count;
    int first_scored, scored_count;
    int test;     /* its place among the tests, -1 for a control */
    int attempts; /* of a special test, 1 .. ATTEMPTS_MAX; else 1 */
    int fault_count;
    int variant_count;
    bool ties_only;  /* a test that counts for ties alone, in no total and no day */
    bool seeks_best; /* its cars are charged or limited by the best of them */
    bool reveal_closed;
    bool track_clock; /* of a track and a marshal, the track's reading counts */
    bool unread;      /* see enum rules_part */
    int64_t test_cap; /* CAP_NONE where open */
    struct schedule road;
    bool *off_points; /* by its points: not on these cars' route; NULL: every point is on it */
    struct penalty_rule *point_rules; /* by its scored points, where one has a rule of its own */
    const void *own; /* what its kind alone has: a struct of scoring/kinds, see its header */
    struct penalty_rule rule;

    const char *id;
    const char *name;
    int64_t distance;          /* -1 where not given */
    struct fault_rule *faults; /* that it names */
    struct variant *variants;  /* the lines of `for`; a copy has none */
    const struct item *base;   /* of a copy: the item; NULL in the item itself */
};

/* The rule of a scored point of an item; `scored` is its place in struct rules. */
static inline const struct penalty_rule *item_rule(const struct item *item, int scored) {
    return item->point_rules == NULL ? &item->rule
                                     : &item->point_rules[scored - item->first_scored];
}

/* By what cars are named, and some cars that are: see event/car_choice.h. */
enum car_key { CARS_BY_GROUP, CARS_BY_CATEGORY, CARS_BY_PERIOD, CARS_BY_CLASS };

struct car_choice {
    enum car_key key;
    int *of; /* places among the groups, categories or periods; of classes see rules_class_id */
    int of_count;
};

/* A line of `for`: some cars for which an item has other values, or is off their route. */
struct variant {
    struct car_choice cars; /* the first line that fits a car is the one that holds */
    bool off;
    int changes;       /* how many keys have other values; with none, these cars have the item's own
                        * values whatever later lines say */
    struct item *item; /* the whole item with the line's values; NULL where off */
};

/* What decides between cars of equal penalty. */
enum tie_kind {
    TIE_MOST_CLEAN,
    TIE_FURTHEST_CLEAN,
    TIE_OLDER_CAR,
    TIE_SMALLER_ENGINE,
    TIE_FIRST_DIFFERENCE,
    TIE_COUNT_BACK,
    TIE_OLDER_DRIVER,
    TIE_YOUNGER_DRIVER,
    TIE_TEST,
    TIE_TIME
};

struct tie {
    enum tie_kind kind;
    int item; /* TIE_TEST, TIE_TIME */
    int time; /* TIE_TIME: its place among those */
};

/* By what a car's coefficient is found. */
enum coefficient_by {
    COEFFICIENT_BY_YEAR,
    COEFFICIENT_BY_CLASS, /* the table names periods */
    COEFFICIENT_BY_CATEGORY,
    COEFFICIENT_BY_ENTRY
};

/* Of what a finisher must have reached a share. */
enum finisher_of { FINISHER_OF_CONTROLS, FINISHER_OF_TESTS, FINISHER_OF_ALL };

struct scoring {
    bool scheduled;           /* timing */
    int64_t max_lateness;     /* TIME_NONE: no limit */
    bool max_lateness_holds;  /* what follows is missed until the car is within it again */
    bool lateness_cumulative; /* target timing: it is held against the sum of late deviations */

    bool has_coefficient;
    enum coefficient_by coefficient_by;
    bool coefficient_per_test; /* else on the total */
    bool coefficient_whole;    /* round: whole */
    bool coefficient_overall_only;
    unsigned coefficient_kinds; /* bit 1 << kind */
    bool coefficient_all;       /* of every kind, and of absent points too */
    int64_t *coefficient_table; /* by period or category, thousandths */

    int drop_count; /* 0: none */
    unsigned drop_kinds;
    bool drop_always;   /* else once the tests they are taken from are all closed */
    bool drop_each_day; /* that many tests of each day; else of the event */

    int team_count;     /* 0: no teams */
    bool teams_by_club; /* a team is the cars of a club; else those that name it */
    struct tie *ties;
    int tie_count;
    int tie_time_count;     /* of them that compare times */
    bool counts_back;       /* `ties` names count-back */
    int64_t absent_day_cap; /* CAP_NONE */
    int64_t day_cap;        /* CAP_NONE */
    enum finisher_of share_of;
    int64_t share_num; /* finisher.share as a fraction; 0 of 1 asks nothing */
    int64_t share_den;
    bool last_point;
    bool shown_as_time;     /* people are shown penalties as time, a point a second */
    int64_t protest_period; /* ms behind a provisional classification; 0 for none */
    struct penalty_rule defaults[KIND_COUNT];
};

/* Columns of the entry list whose words a prize may go by. */
enum entry_column { COLUMN_NONE, COLUMN_COUNTRY, COLUMN_CLUB, COLUMN_MAKE };

/* A prize; they are in the order of their importance. */
struct award {
    const char *id;
    const char *name;
    enum standings_by by;     /* unused where it goes by a column */
    enum entry_column column; /* COLUMN_NONE: by standings */
    const char *of_word;      /* by column: the word of the cars that it is for; NULL: for each */
    int of;      /* the class, category, group, day or item, or (`period`) the period; -1: each */
    bool period; /* all classes of a period that has several */
    int places;
    bool once;               /* those who took an earlier one are passed over */
    struct car_choice among; /* only these are ranked; of_count 0: all are */
    bool has_within; /* all that are placed with at most that penalty and no fails take it */
    int64_t within;  /* thousandths */
};

/* Parts of event.json that name what other parts and files refer to. */
enum rules_part {
    RULES_PERIODS = 1 << 0,
    RULES_CAPACITIES = 1 << 1,
    RULES_CATEGORIES = 1 << 2,
    RULES_GROUPS = 1 << 3,
    RULES_TEAMS = 1 << 4,
    RULES_IDS = 1 << 5,   /* ids and kinds of the items on the route */
    RULES_ITEMS = 1 << 6, /* what is in them: those that are `unread` have no points */
    RULES_ALL_PARTS = (1 << 7) - 1
};

struct rules {
    struct arena *arena;
    unsigned unread; /* parts with an error, whose names are not all known; 0 in good rules */

    const char *name;
    const char *slug;
    const char *timezone;
    bool miles; /* else kilometres */
    struct day *days;
    int day_count;

    struct period *periods;
    int period_count;
    struct capacity *capacities; /* none: one class for each period */
    int capacity_count;
    struct category *categories;
    int category_count;
    struct car_group *groups;
    int group_count;
    int64_t supercharged_factor; /* thousandths; 1000 where absent */

    struct scoring scoring;
    struct award *awards;
    int award_count;

    struct item *items;
    int item_count;
    int test_count;
    struct point *points;
    int point_count;
    struct scored *scored;
    int scored_count;
    struct strmap point_by_id;
    struct strmap item_by_id;
};

/* Reads event.json.
 *   text, len  the file, borrowed
 *   problems   gets every error with its path
 *   out        the rules; the caller frees them with rules_free
 * Returns: ERR_OK; ERR_INPUT where anything is wrong; ERR_NOMEM. `out` is NULL unless ERR_OK. */
int rules_read(const char *text, size_t len, struct problems *problems, struct rules **out);

/* As rules_read, but where anything is wrong `out` gets what could be read, so that other files can
 * be looked through for what does not depend on the rest: `unread` says what is not known. Nothing
 * can be scored by it. `out` is NULL only where memory is out.
 *   text  NULL: there is no file; nothing is reported, and no part is known */
int rules_read_partly(const char *text, size_t len, struct problems *problems, struct rules **out);

/* Frees rules; NULL is accepted. */
void rules_free(struct rules *rules);

/* True where a text may be the id of a period, capacity class, category, group, prize or fault: 1
 * to RULE_ID_MAX of A-Z a-z 0-9 _ - */
bool rule_id_is_good(const char *id);

/* The unit of distances and speeds: "mi" or "km". */
const char *rules_unit(const struct rules *rules);

/* Number of classes: periods times capacity classes. (Classes are written in classes.c.) */
int rules_class_count(const struct rules *rules);

/* Appends a class's id ("D-1") or its name for people. `class_index` from 0. */
void rules_class_id(const struct rules *rules, int class_index, struct textbuf *b);
void rules_class_name(const struct rules *rules, int class_index, struct textbuf *b);

/* True where a name that was not found may be that of something which could not be read: of one of
 * some parts, or of a point. No names are missing in rules without an error. */
bool rules_may_have(const struct rules *rules, unsigned parts);
bool rules_may_have_point(const struct rules *rules, const char *id);

/* The period of a year of build, -1 where none takes it. */
int rules_period_of(const struct rules *rules, int year);

/* The period, category or group of that id, -1 where there is none. A group's is `len` bytes that
 * need no end. */
int rules_period_named(const struct rules *rules, const char *id);
int rules_category_of(const struct rules *rules, const char *id);
int rules_group_of(const struct rules *rules, const char *id, size_t len);

/* The capacity class of an engine: cc as entered (unknown counts as 0), multiplied first where
 * supercharged, cut to whole cc. 0 where the event has no capacity classes. */
int rules_capacity_of(const struct rules *rules, int64_t cc, bool supercharged);

#endif
