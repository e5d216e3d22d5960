/* SPDX-License-Identifier: MIT */
/* event.h - all facts of one event in memory: rules, entries, readings, decisions.
 * A score is a function of these and of a view, and of nothing else. Not thread-safe: one owner
 * at a time; scoring only reads. */
#ifndef CAIRN_EVENT_H
#define CAIRN_EVENT_H

#include "decisions.h"
#include "entries.h"
#include "readings.h"
#include "rules.h"
#include "rulings.h"

struct problems;

/* A reading that is to count at a car's point in place of the one that does; NULL for none. */
struct instead {
    int car;
    int point;
    const struct reading *reading;
};

struct event {
    struct rules *rules;
    struct entries *entries;
    struct readings *readings;
    int upto; /* how many of the readings this event sees; READINGS_ALL for all */
    struct decisions *decisions;
    struct rulings *rulings;       /* what the decisions that hold come to; see event_settle */
    const struct instead *instead; /* for a trial: NULL where all is as the log says */
};

/* One file of an event folder in memory; text NULL where the file is not there. */
struct file_text {
    const char *text;
    size_t len;
};

struct event_files {
    struct file_text rules;     /* event.json */
    struct file_text entries;   /* entries.csv */
    struct file_text starts;    /* starts.csv, may be missing */
    struct file_text readings;  /* readings.csv, may be missing */
    struct file_text decisions; /* decisions.csv, may be missing */
};

/* Reads a whole event.
 *   files     borrowed for the call
 *   problems  gets everything that is wrong, refused or worth a warning
 *   out       the event; the caller frees it with event_free
 * Returns: ERR_OK (also where readings were refused); ERR_INPUT; ERR_NOMEM. */
int event_read(const struct event_files *files, struct problems *problems, struct event **out);

/* Works out the rulings anew; to be called after decisions were added.
 * Returns: ERR_OK; ERR_NOMEM, and then the old rulings still stand. */
int event_settle(struct event *event);

/* Frees an event; NULL is accepted. */
void event_free(struct event *event);

#endif
