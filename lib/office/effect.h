/* SPDX-License-Identifier: MIT */
/* effect.h - which cars' results differ between two scores of one event: what a ruling would do, or
 * did. Compares overall place, place in the class, penalty, fails and status of each car. */
#ifndef CAIRN_EFFECT_H
#define CAIRN_EFFECT_H

#include "scoring/scoring.h"

struct textbuf;

/* A car's result on one side. */
struct result {
    int position;       /* overall, 0 where unplaced */
    int class_position; /* 0 where unplaced */
    int fails;
    int64_t penalty;
    enum car_status status;
};

/* A car of which something differs. */
struct move {
    int car; /* place in the entry list */
    struct result before;
    struct result after;
};

struct effect {
    const struct event *event;
    struct move *moves; /* by overall place afterwards, those without one last, by number */
    int count;
};

/* Compares two scores of events with the same rules and entries.
 *   before, after  borrowed for the call, but for the event of `after`: until effect_clear
 * Returns: ERR_OK or ERR_NOMEM; effect_clear in any case. */
int effect_make(const struct scores *before, const struct scores *after, struct effect *out);
void effect_clear(struct effect *effect);

/* How many cars change their overall or class place. */
int effect_places(const struct effect *effect);

/* The moves as a JSON array. */
void effect_write_json(struct textbuf *b, const struct effect *effect);

#endif
