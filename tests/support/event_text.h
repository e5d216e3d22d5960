/* SPDX-License-Identifier: MIT */
/* event_text.h - a whole event from a few strings.
 * JSON may be written with ' for ", so that it can be read inside C. */
#ifndef CAIRN_TESTS_EVENT_TEXT_H
#define CAIRN_TESTS_EVENT_TEXT_H

#include "base/problem.h"
#include "event/event.h"

/* An event.json of one day (first start 08:01, a minute apart, order by number) from three pieces
 * of JSON: the value of "classes", that of "scoring", and the items of "route" without brackets. */
#define RULES(classes, scoring, route)                                                             \
    "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': 'Atlantic/Azores', 'unit': 'km', "   \
    "'days': [{'date': '2027-05-20', 'first_start': '08:01', 'interval': '00:01:00'}], "           \
    "'classes': " classes ", 'scoring': " scoring ", 'route': [" route "]}"

/* The same with two days. */
#define RULES_OF_TWO_DAYS(classes, scoring, route)                                                 \
    "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': 'Atlantic/Azores', 'unit': 'km', "   \
    "'days': [{'date': '2027-05-20', 'first_start': '08:01', 'interval': '00:01:00'}, "            \
    "{'date': '2027-05-21', 'first_start': '09:01', 'interval': '00:02:00'}], "                    \
    "'classes': " classes ", 'scoring': " scoring ", 'route': [" route "]}"

#define FIVA "{'scheme': 'fiva'}"

/* Three cars: 1 of 1925, 2 of 1934 and 5 of 1955. */
#define THREE_CARS                                                                                 \
    "number,driver,navigator,make,model,year\n"                                                    \
    "1,Ann Alder,Bob Alder,Calder,Six,1925\n"                                                      \
    "2,Cai Birch,,Thornbeck,Ten,1934\n"                                                            \
    "5,Dot Cedar,Eli Cedar,Garrodine,Sport,1955\n"

/* The files of an event folder. NULL is a file that is not there, but for the entries: NULL is
 * then THREE_CARS. */
struct event_text {
    const char *rules; /* with ' for " */
    const char *entries;
    const char *starts;
    const char *readings;
    const char *decisions;
    const char *unassigned;
};

/* A copy with " for ', which the caller frees. */
char *quoted(const char *text);

/* Reads an event that must be good: fails the test, with what was said, where an error or a
 * refusal comes. The caller frees it with model_free. */
struct model *event_text_good(const struct event_text *texts);

/* Reads rules that must be good. The caller frees them with rules_free. */
struct rules *rules_good(const char *text);

/* All problems, a line each as the commands print them: "PLACE: text". The caller frees it. */
char *problems_text(const struct problems *problems);

#endif
