/* SPDX-License-Identifier: MIT */
/* readings.h - the log of readings, and which of them counts.
 * Readings are only ever added. What counts does not depend on the order in which they came.
 * Source: the contract, "readings.csv".
 *
 * Threads: one owner adds; at the same time any number of others may look at the log as it was
 * when it held `upto` readings, through the functions that take `upto`. What they see never
 * changes. `upto` must have been handed to them by the owner after those readings were added. */
#ifndef CAIRN_READINGS_H
#define CAIRN_READINGS_H

#include <limits.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "clock.h"
#include "entries.h"
#include "rules.h"
#include "table.h"

struct textbuf;

enum { FAULT_COUNT_MAX = 999 };

/* `upto` for the whole log. */
#define READINGS_ALL INT_MAX

/* The fields of a reading as they were written. No member may be NULL; empty is not given. */
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

struct reading_text {
    const char *field[READING_FIELD_COUNT];
    struct extra *extras;
};

/* The name of a field, as in the header of readings.csv. */
extern const char *const reading_field_names[READING_FIELD_COUNT];

struct fault_count {
    int fault; /* place among its test's faults */
    int count;
};

/* One accepted reading. */
struct reading {
    const char *id;
    int car;
    int point;
    int64_t time;    /* time of day in ms, as read; TIME_NONE where not given */
    int64_t elapsed; /* ms, as read; TIME_NONE where not given */
    struct fault_count *faults;
    int fault_count;
    bool has_at;
    bool is_void; /* withdraws another, and is no reading itself */
    struct instant at;
    atomic_int replaced_by; /* the first reading that names it, READINGS_ALL where none does */
    int32_t next;           /* an earlier one of the same car and point, -1 at the end */
    struct reading_text text;
};

struct readings;

enum reading_result { READING_ADDED, READING_DUPLICATE, READING_REFUSED, READING_NOMEM };

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
 * Returns: see enum reading_result. Refused and duplicate readings leave the log as it was. */
enum reading_result readings_add(struct readings *readings, const struct reading_text *text,
                                 struct textbuf *reason, int *index);

/* Checks a reading without adding it; as readings_add, but never changes the log. */
enum reading_result readings_try(struct readings *readings, const struct reading_text *text,
                                 struct textbuf *reason);

/* Adds all rows of a readings.csv. Refused rows are reported with their line and left out.
 * Returns: ERR_OK; ERR_INPUT where the header is wrong; ERR_NOMEM. */
int readings_read(struct readings *readings, const char *file, const char *text, size_t len,
                  struct problems *problems);

/* Checks what can be told without an event: how each field is written, that a correction is whole.
 *   reason  gets what is wrong; untouched otherwise
 * Returns: true where nothing is. An event may still refuse the reading. */
bool reading_form_is_good(const struct reading_text *text, struct textbuf *reason);

/* Appends the id that a reading without one gets: 32 hex digits. */
void reading_derive_id(const struct reading_text *text, struct textbuf *id);

/* How many readings there are, and one of them (it lives as long as the log). */
int readings_count(const struct readings *readings);
const struct reading *readings_at(const struct readings *readings, int index);

/* The reading of that id, -1 where there is none. */
int readings_find(const struct readings *readings, const char *id);

/* The reading that counts for a car at a point.
 *   upto      look at the first `upto` readings only, READINGS_ALL for all
 *   conflict  true where others that nothing replaces differ from it; may be NULL
 * Returns: the reading, which lives as long as the log; NULL where there is none. */
const struct reading *readings_counted(const struct readings *readings, int upto, int car,
                                       int point, bool *conflict);

/* The latest of all readings (counting or not) of a car at a point, -1 where there is none; go on
 * with `next`. May be one past any `upto`. */
int readings_first(const struct readings *readings, int car, int point);

/* How often anything was said of a car at a point: readings, and what replaces or withdraws them.
 * Only ever grows; the same number means the same evidence.
 *   upto  as for readings_counted */
int readings_said(const struct readings *readings, int upto, int car, int point);

/* True where a reading is replaced or withdrawn by one of the first `upto`. */
bool reading_is_replaced(const struct reading *reading, int upto);

#endif
