/* SPDX-License-Identifier: MIT */
/* facts.h - readings and decisions from short texts, as rows of their CSV files are. */
#ifndef CAIRN_TESTS_FACTS_H
#define CAIRN_TESTS_FACTS_H

#include "event/decisions.h"
#include "event/readings.h"

enum { FACT_TEXT_MAX = 512 };

/* A reading or decision and the bytes that its fields point at. */
struct reading_row {
    char bytes[FACT_TEXT_MAX];
    struct reading_text text;
};
struct decision_row {
    char bytes[FACT_TEXT_MAX];
    struct decision_text text;
};

/* Fields by name: "point=TC1,car=1,time=08:46"; others are empty. A name that is no column fails
 * the test. The row must stay where it is while its text is used. */
void reading_row(struct reading_row *row, const char *fields);
void decision_row(struct decision_row *row, const char *fields);

/* Adds one; a reason is left in `reason`, which may be NULL. */
enum fact_result reading_put(struct readings *readings, const char *fields, struct textbuf *reason);
enum fact_result decision_put(struct decisions *decisions, const char *fields,
                              struct textbuf *reason);

/* The same of a reading that the desk 0a1b2c3d has sent to the server, which may stand aside.
 *   flags  its words; NULL for none */
enum fact_result reading_put_from_desk(struct readings *readings, const char *fields,
                                       const char *flags, struct textbuf *reason);

/* The same through readings_try and decisions_try. */
enum fact_result reading_test(struct readings *readings, const char *fields,
                              struct textbuf *reason);
enum fact_result decision_test(struct decisions *decisions, const char *fields,
                               struct textbuf *reason);

#endif
