/* SPDX-License-Identifier: MIT */
/* event.h - all facts of one event in memory: rules, entries, readings, decisions.
 * A score is a function of these and of a view, and of nothing else.
 *
 * Two types, since one thread adds facts while others read. A `struct model` has the logs and
 * belongs to the owner who adds to them. A `struct event` is what the model holds at some moment:
 * it never changes and leads to no log, so that it can be read on any thread. */
#ifndef CAIRN_EVENT_H
#define CAIRN_EVENT_H

#include "event/decisions.h"
#include "event/entries.h"
#include "event/readings.h"
#include "event/rules.h"
#include "event/rulings.h"

struct problems;

/* A reading that is to count at a car's point in place of the one that does: what would follow if
 * it did. `reading` NULL: none counts there. */
struct substitute {
    int car;
    int point;
    const struct reading *reading;
};

/* Rules, entries and facts as they are at some moment. All borrowed from the model. */
struct event {
    const struct rules *rules;
    const struct entries *entries;
    struct readings_view readings;
    struct decision_list decisions;
    const struct rulings *rulings;       /* what follows from the decisions that hold */
    const struct substitute *substitute; /* NULL: the readings count as they are */
};

/* An event that facts are added to. Not thread-safe: one owner at a time. */
struct model {
    struct rules *rules;
    struct entries *entries;
    struct readings *readings;
    struct decisions *decisions;
    struct event event; /* as of the last model_settle */
    struct rulings *rulings;
};

/* One file of an event folder in memory; text NULL where the file is not there. */
struct file_text {
    const char *text;
    size_t len;
};

struct event_files {
    struct file_text rules;      /* event.json */
    struct file_text entries;    /* entries.csv */
    struct file_text starts;     /* starts.csv, may be missing */
    struct file_text readings;   /* readings.csv, may be missing */
    struct file_text decisions;  /* decisions.csv, may be missing */
    struct file_text unassigned; /* unassigned.csv, readings of desks that stand aside, may be
                                  * missing */
};

/* Reads a whole event, and settles it.
 *   files     borrowed for the call
 *   problems  gets everything that is wrong, refused or worth a warning
 *   out       the caller frees it with model_free
 * Returns: ERR_OK (also where readings were refused); ERR_INPUT; ERR_NOMEM. */
int model_read(const struct event_files *files, struct problems *problems, struct model **out);

/* Replaces the model's event by one that has all that was added since; its rulings follow from
 * which decisions hold (see decisions_settle).
 * Returns: ERR_OK; ERR_NOMEM, and then the event stays as it was. */
int model_settle(struct model *model);

/* Frees a model, and with it every event that was made from it; NULL is accepted. */
void model_free(struct model *model);

#endif
