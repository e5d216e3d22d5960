/* SPDX-License-Identifier: MIT */
#include "office/what_if.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"

int what_if_new(const struct event *event, struct what_if **out) {
    struct what_if *w = calloc(1, sizeof *w);
    struct textbuf reason = {0};
    int err = ERR_OK;
    *out = NULL;
    if (w == NULL)
        return ERR_NOMEM;
    w->of = event;
    w->event = *event;
    w->decisions = decisions_new(event->rules, event->entries);
    w->event.decisions = (struct decision_list){0};
    if (w->decisions == NULL)
        err = ERR_NOMEM;
    for (int i = 0; err == ERR_OK && i < event->decisions.count; i++) {
        const struct decision *decision = event->decisions.list[i].decision;
        if (decisions_add(w->decisions, &decision->text, &reason, NULL) == FACT_NOMEM)
            err = ERR_NOMEM;
    }
    textbuf_clear(&reason);
    if (err == ERR_OK)
        *out = w;
    else
        what_if_free(w);
    return err;
}

enum fact_result what_if_decision(struct what_if *w, const struct decision_text *text,
                                  struct textbuf *reason) {
    if (strcmp(text->field[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
        decisions_find(w->decisions, text->field[DECISION_VALUE]) < 0) {
        textbuf_printf(reason, "value “%s” is the id of no decision", text->field[DECISION_VALUE]);
        return FACT_REFUSED;
    }
    return decisions_add(w->decisions, text, reason, NULL);
}

/* Copies the event's readings into a log of our own. */
static int copy_readings(struct what_if *w) {
    const struct event *of = w->of;
    struct textbuf reason = {0};
    int err = ERR_OK;
    w->readings = readings_new(of->rules, of->entries);
    if (w->readings == NULL)
        return ERR_NOMEM;
    for (int i = 0; err == ERR_OK && i < of->readings.count; i++) {
        const struct reading *reading = readings_view_at(of->readings, i);
        if (readings_add(w->readings, &reading->text, &reason, NULL) == FACT_NOMEM)
            err = ERR_NOMEM;
    }
    textbuf_clear(&reason);
    return err;
}

enum fact_result what_if_reading(struct what_if *w, const struct reading_text *text,
                                 struct textbuf *reason) {
    if (w->readings == NULL && copy_readings(w) != ERR_OK)
        return FACT_NOMEM;
    return readings_add(w->readings, text, reason, NULL);
}

static void forget_scores(struct what_if *w) {
    scores_free(w->scores);
    view_free(w->view);
    rulings_free(w->rulings);
    decision_list_clear(&w->event.decisions);
    w->scores = NULL;
    w->view = NULL;
    w->rulings = NULL;
}

int what_if_score(struct what_if *w, struct view_request request) {
    forget_scores(w);
    if (decisions_settle(w->decisions, "decisions", NULL) == ERR_NOMEM)
        return ERR_NOMEM;
    if (w->readings != NULL)
        w->event.readings = readings_view(w->readings);
    int err = decisions_list(w->decisions, &w->event.decisions);
    if (err == ERR_OK)
        err = rulings_build(&w->event, &w->rulings);
    w->event.rulings = w->rulings;
    if (err == ERR_OK)
        err = view_new(&w->event, request, &w->view);
    if (err == ERR_OK)
        err = scores_new(&w->event, w->view, &w->scores);
    return err;
}

void what_if_free(struct what_if *w) {
    if (w == NULL)
        return;
    forget_scores(w);
    readings_free(w->readings);
    decisions_free(w->decisions);
    free(w);
}
