/* SPDX-License-Identifier: MIT */
/* desk_reports.h - the latest report of each timekeeper's desk: what waits there, how good its
 * clock is. Not a fact of the event: kept in memory only, and sent again by every desk within a
 * minute. Any thread; it has a lock of its own. */
#ifndef CAIRN_DESK_REPORTS_H
#define CAIRN_DESK_REPORTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct served_event;

/* Eight hexadecimal digits, lower case, that a browser profile made for itself. */
enum { DESK_ID_LEN = 8, DESK_TEXT_MAX = 64 };

/* Wrong is what the desk itself knows to be: it ran backwards since it was compared last. */
enum desk_clock { DESK_CLOCK_UNVERIFIED, DESK_CLOCK_DOUBTFUL, DESK_CLOCK_GOOD, DESK_CLOCK_WRONG };

struct desk_report {
    const struct served_event *served; /* whose event */
    int64_t key_id;                    /* with whose key */
    char desk[DESK_ID_LEN + 1];
    char by[DESK_TEXT_MAX + 1]; /* who sits there; may be empty */
    char version[DESK_TEXT_MAX + 1];
    int64_t last_seq; /* the last sequence number that was given out, 0 for none */
    int64_t unsent;   /* readings that wait to be sent */
    int64_t refused;  /* readings that a person must look at */
    int64_t blanks;   /* stamps without a number */
    int64_t offset_ms;
    int64_t uncertainty_ms;
    int64_t skew_ms; /* how far the browser's clock of keys is behind that of its page */
    enum desk_clock clock;
    int64_t received_ms; /* since 1970, UTC */
};

struct desk_reports;

/* An empty list (NULL when memory is out), and its end; NULL is accepted. */
struct desk_reports *desk_reports_new(void);
void desk_reports_free(struct desk_reports *reports);

/* Keeps a report in place of an earlier one of the same desk and event. Where the list is full,
 * the report that is oldest goes. It is copied. */
void desk_reports_put(struct desk_reports *reports, const struct desk_report *report);

/* Copies the reports of an event, in order of desk.
 *   out   gets them; room for LIMIT_DESKS
 * Returns: how many. */
size_t desk_reports_list(struct desk_reports *reports, const struct served_event *served,
                         struct desk_report *out);

/* True for DESK_ID_LEN hexadecimal digits in lower case. */
bool desk_id_is_good(const char *id);

/* The words of a clock's states, in the order of enum desk_clock, and a NULL. */
extern const char *const desk_clock_words[];

/* One of them. */
const char *desk_clock_word(enum desk_clock clock);

#endif
