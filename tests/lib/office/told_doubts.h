/* SPDX-License-Identifier: MIT */
/* told_doubts.h - what `cairn check` and its parts doubt in small events. */
#ifndef CAIRN_TOLD_DOUBTS_H
#define CAIRN_TOLD_DOUBTS_H

#include <stdlib.h>

#include "base/err.h"
#include "event_text.h"
#include "office/check.h"
#include "testing.h"

#define CONTROL(id, more)                                                                          \
    "{'day': 1, 'id': '" id "', 'kind': 'time-control', 'target': '00:45:00'" more "}"

/* Three cars of one class, so that none is alone. */
#define ALIKE                                                                                      \
    "number,driver,navigator,make,model,year\n1,A,,M,X,1925\n2,B,,M,X,1926\n3,C,,M,X,1927\n"

/* Doubts, and nothing else, as text, which the caller frees; the problems are cleared. */
static inline char *told(struct problems *problems) {
    assert_int_equal(problems->count, problems->by_level[PROBLEM_DOUBT]);
    char *said = problems_text(problems);
    problems_clear(problems);
    return said;
}

/* The doubts about an event that can be read; the caller frees them. */
static inline char *doubts_of(const struct event_text *texts) {
    struct problems problems = {0};
    struct model *model = event_text_good(texts);
    assert_int_equal(check_event(model, &problems), ERR_OK);
    model_free(model);
    return told(&problems);
}

static inline void check(const struct event_text *texts, const char *expected) {
    char *said = doubts_of(texts);
    assert_string_equal(said, expected);
    free(said);
}

static inline void check_route(const char *rules, const char *expected) {
    struct event_text texts = {.rules = rules, .entries = ALIKE};
    check(&texts, expected);
}

/* What one part of the check, which looks at the rules alone, doubts in them. */
static inline void check_part(void (*part)(const struct rules *, struct problems *),
                              const char *text, const char *expected) {
    struct problems problems = {0};
    struct rules *rules = rules_good(text);
    part(rules, &problems);
    rules_free(rules);
    char *said = told(&problems);
    assert_string_equal(said, expected);
    free(said);
}

#endif
