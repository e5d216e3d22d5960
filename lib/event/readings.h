/* SPDX-License-Identifier: MIT */
/* readings.h - the log of readings, and which of them counts.
 * Readings are only ever added. What counts does not depend on the order in which they came.
 * Source: the contract, "readings.csv".
 *
 * Threads: one owner has the log (`struct readings`) and adds to it. Meanwhile any number of other
 * threads may read it as it was at some moment, through a `struct readings_view`: what a view shows
 * never changes, and it leads to nothing else of the log. */
#ifndef CAIRN_READINGS_H
#define CAIRN_READINGS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/times.h"
#include "event/entries.h"
#include "event/fact.h"
#include "event/rules.h"
#include "format/csv_columns.h"

struct textbuf;

/* The fields of a reading, in the order of readings.csv. */
enum reading_field {
    READING_POINT,
    READING_CAR,
    READING_TIME,
    READING_ELAPSED,
    READING_FAULTS,
    READING_AT,
    READING_BY,
    READING_REPLACES,
    READING_VOID,
    READING_REASON,
    READING_HASHED, /* the fields before this one make the id where none is given */
    READING_ID = READING_HASHED,
    READING_FIELD_COUNT
};

/* The fields of a reading as they were written. No member may be NULL; empty is not given. */
struct reading_text {
    const char *field[READING_FIELD_COUNT];
    struct extra *extras;
    bool from_desk; /* it may stand aside, see enum reading_aside; else it must be of a car of the
                     * list. What a desk sent to the server, and what became of that: its extras
                     * name the desk, see reading_names_desk */
};

/* Why a desk's reading stands aside: it is kept, and counts for nobody. With another entry list the
 * same reading may be of a car. */
enum reading_aside {
    ASIDE_NOT,         /* it is of a car */
    ASIDE_UNKNOWN_CAR, /* its car is not in the entry list, or cannot have such a reading */
    ASIDE_NO_CAR,      /* a time whose car nobody has told yet */
    ASIDE_REHEARSAL    /* made while the desk was tried out: its flags name "rehearsal" */
};

/* The name of a field, as in the header of readings.csv. */
extern const char *const reading_field_names[READING_FIELD_COUNT];

/* One accepted reading. */
struct reading {
    const char *id;
    int car;
    int point;
    int64_t time;    /* time of day in ms, as read; TIME_NONE where not given */
    int64_t elapsed; /* ms, as read; TIME_NONE where not given */
    const struct fault_count *faults;
    int fault_count;
    bool has_at;
    bool is_void;      /* only withdraws another reading */
    bool from_track;   /* see event/reading_source.h */
    bool other_faults; /* a desk's: its faults are more than the item names, and those are left
                        * out */
    enum reading_aside aside; /* where it is not ASIDE_NOT, car is -1 */
    int64_t uncertainty;      /* of a track's reading: ms either way */
    struct instant at;
    struct reading_text text;
};

/* The log; only its owner uses it. */
struct readings;

/* The first `count` readings of a log, as they were when it held that many. A plain value, for any
 * thread, as long as the log lives. */
struct reading_blocks;
struct readings_view {
    const struct reading_blocks *blocks; /* for readings.c */
    int count;
};

/* An empty log for an event.
 *   rules, entries  borrowed until readings_free
 * Returns: the log; NULL when memory is out. */
struct readings *readings_new(const struct rules *rules, const struct entries *entries);

/* Frees a log; NULL is accepted. */
void readings_free(struct readings *readings);

/* Adds one reading.
 *   text    its fields, copied where the reading is taken
 *   reason  gets why it was refused; untouched otherwise
 *   index   gets its place in the log where it was added (or the place of the one that it
 *           repeats); may be NULL
 * Returns: see enum fact_result. Refused and duplicate readings leave the log as it was. */
enum fact_result readings_add(struct readings *readings, const struct reading_text *text,
                              struct textbuf *reason, int *index);

/* Checks a reading without adding it; as readings_add, but never changes the log. */
enum fact_result readings_try(struct readings *readings, const struct reading_text *text,
                              struct textbuf *reason);

/* Adds all rows of a readings.csv. Refused rows are reported with their line and left out.
 * Returns: ERR_OK; ERR_INPUT where the header is wrong; ERR_NOMEM. */
int readings_read(struct readings *readings, const char *file, const char *text, size_t len,
                  struct problems *problems);

/* The same of an unassigned.csv: rows of the form of readings.csv that a desk has sent, with its
 * name in a column `desk`, and that may stand aside. A row that names no desk is read as in
 * readings.csv. */
int readings_read_unassigned(struct readings *readings, const char *file, const char *text,
                             size_t len, struct problems *problems);

/* True where the other columns of a reading name a desk. */
bool reading_names_desk(const struct extra *extras);

/* Appends the id that a reading without one gets: 32 hex digits. */
void reading_derive_id(const struct reading_text *text, struct textbuf *id);

/* How many readings there are, and one of them (it lives as long as the log). */
int readings_count(const struct readings *readings);
const struct reading *readings_at(const struct readings *readings, int index);

/* The reading of that id, -1 where there is none. */
int readings_find(const struct readings *readings, const char *id);

/* All that the log holds now. */
struct readings_view readings_view(const struct readings *readings);

/* The view of an earlier moment: its first readings.
 *   count  0 or more; where it is more than the view has, all of the view */
struct readings_view readings_view_upto(struct readings_view view, int count);

/* One of them.
 *   index  from 0, below the view's count */
const struct reading *readings_view_at(struct readings_view view, int index);

/* The reading that counts for a car at a point: that of the item's `clock` where a track and a
 * marshal have read it, of these the first that was made.
 *   conflict  true where others that nothing replaces say something else; may be NULL
 * Returns: the reading, which lives as long as the log; NULL where there is none. */
const struct reading *readings_counted(struct readings_view view, int car, int point,
                                       bool *conflict);

/* The latest of all readings (counting or not) of a car at a point, and the one before another of
 * them. -1 where there is none. */
int readings_latest(struct readings_view view, int car, int point);
int readings_before(struct readings_view view, int index);

/* The latest of all readings that stand aside (void and replaced ones among them); readings_before
 * leads to the others. -1 where there is none. */
int readings_latest_aside(struct readings_view view);

/* How many facts there are about a car at a point: readings, and what replaces or withdraws them.
 * Only ever grows, so that the same number means the same evidence. */
int readings_evidence_count(struct readings_view view, int car, int point);

/* The first reading that replaces or withdraws another, -1 where none of the view does.
 *   reading  of the same log */
int readings_replacing(struct readings_view view, const struct reading *reading);

/* True where there is one. */
bool reading_is_replaced(struct readings_view view, const struct reading *reading);

#endif
