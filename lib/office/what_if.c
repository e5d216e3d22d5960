/* SPDX-License-Identifier: MIT */
#include "office/what_if.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"

int what_if_new(const struct event *event, struct what_if **out) {
    struct what_if *t = calloc(1, sizeof *t);
    struct textbuf reason = {0};
    int err = ERR_OK;
    *out = NULL;
    if (t == NULL)
        return ERR_NOMEM;
    t->of = event;
    t->event = *event;
    t->decisions = decisions_new(event->rules, event->entries);
    t->event.decisions = (struct decision_list){0};
    if (t->decisions == NULL)
        err = ERR_NOMEM;
    for (int i = 0; err == ERR_OK && i < event->decisions.count; i++) {
        const struct decision *decision = event->decisions.list[i].decision;
        if (decisions_add(t->decisions, &decision->text, &reason, NULL) == FACT_NOMEM)
            err = ERR_NOMEM;
    }
    textbuf_clear(&reason);
    if (err == ERR_OK)
        *out = t;
    else
        what_if_free(t);
    return err;
}

enum fact_result what_if_decision(struct what_if *t, const struct decision_text *text,
                                  struct textbuf *reason) {
    if (strcmp(text->field[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
        decisions_find(t->decisions, text->field[DECISION_VALUE]) < 0) {
        textbuf_printf(reason, "value “%s” is the id of no decision", text->field[DECISION_VALUE]);
        return FACT_REFUSED;
    }
    return decisions_add(t->decisions, text, reason, NULL);
}

/* The readings as the event sees them, in a log of our own. */
static int copy_readings(struct what_if *t) {
    const struct event *of = t->of;
    struct textbuf reason = {0};
    int err = ERR_OK;
    t->readings = readings_new(of->rules, of->entries);
    if (t->readings == NULL)
        return ERR_NOMEM;
    for (int i = 0; err == ERR_OK && i < of->readings.count; i++) {
        const struct reading *reading = readings_view_at(of->readings, i);
        if (readings_add(t->readings, &reading->text, &reason, NULL) == FACT_NOMEM)
            err = ERR_NOMEM;
    }
    textbuf_clear(&reason);
    return err;
}

enum fact_result what_if_reading(struct what_if *t, const struct reading_text *text,
                                 struct textbuf *reason) {
    if (t->readings == NULL && copy_readings(t) != ERR_OK)
        return FACT_NOMEM;
    return readings_add(t->readings, text, reason, NULL);
}

static void forget_scores(struct what_if *t) {
    scores_free(t->scores);
    view_free(t->view);
    rulings_free(t->rulings);
    decision_list_clear(&t->event.decisions);
    t->scores = NULL;
    t->view = NULL;
    t->rulings = NULL;
}

int what_if_score(struct what_if *t, struct view_request request) {
    forget_scores(t);
    if (decisions_settle(t->decisions, "decisions", NULL) == ERR_NOMEM)
        return ERR_NOMEM;
    if (t->readings != NULL)
        t->event.readings = readings_view(t->readings);
    int err = decisions_list(t->decisions, &t->event.decisions);
    if (err == ERR_OK)
        err = rulings_build(&t->event, &t->rulings);
    t->event.rulings = t->rulings;
    if (err == ERR_OK)
        err = view_new(&t->event, request, &t->view);
    if (err == ERR_OK)
        err = scores_new(&t->event, t->view, &t->scores);
    return err;
}

void what_if_free(struct what_if *t) {
    if (t == NULL)
        return;
    forget_scores(t);
    readings_free(t->readings);
    decisions_free(t->decisions);
    free(t);
}
