/* SPDX-License-Identifier: MIT */
#include "trial.h"

#include <stdlib.h>
#include <string.h>

#include "err.h"
#include "textbuf.h"

int trial_new(const struct event *event, const struct decision *const *list, int count,
              struct trial **out) {
    struct trial *t = calloc(1, sizeof *t);
    struct textbuf reason = {0};
    int err = ERR_OK;
    *out = NULL;
    if (t == NULL)
        return ERR_NOMEM;
    t->of = event;
    t->event = *event;
    t->decisions = decisions_new(event->rules, event->entries);
    t->event.decisions = t->decisions;
    if (t->decisions == NULL)
        err = ERR_NOMEM;
    for (int i = 0; err == ERR_OK && i < count; i++) {
        if (decisions_add(t->decisions, &list[i]->text, &reason, NULL) == DECISION_NOMEM)
            err = ERR_NOMEM;
    }
    textbuf_clear(&reason);
    if (err == ERR_OK)
        *out = t;
    else
        trial_free(t);
    return err;
}

enum decision_result trial_decision(struct trial *t, const struct decision_text *text,
                                    struct textbuf *reason) {
    if (strcmp(text->field[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
        decisions_find(t->decisions, text->field[DECISION_VALUE]) < 0) {
        textbuf_printf(reason, "value “%s” is the id of no decision", text->field[DECISION_VALUE]);
        return DECISION_REFUSED;
    }
    return decisions_add(t->decisions, text, reason, NULL);
}

/* The readings as the event sees them, in a log of our own. */
static int copy_readings(struct trial *t) {
    const struct event *of = t->of;
    struct textbuf reason = {0};
    int count = of->upto == READINGS_ALL ? readings_count(of->readings) : of->upto;
    int err = ERR_OK;
    t->readings = readings_new(of->rules, of->entries);
    if (t->readings == NULL)
        return ERR_NOMEM;
    for (int i = 0; err == ERR_OK && i < count; i++) {
        if (readings_add(t->readings, &readings_at(of->readings, i)->text, &reason, NULL) ==
            READING_NOMEM)
            err = ERR_NOMEM;
    }
    textbuf_clear(&reason);
    t->event.readings = t->readings;
    t->event.upto = READINGS_ALL;
    return err;
}

enum reading_result trial_reading(struct trial *t, const struct reading_text *text,
                                  struct textbuf *reason) {
    if (t->readings == NULL && copy_readings(t) != ERR_OK)
        return READING_NOMEM;
    return readings_add(t->readings, text, reason, NULL);
}

static void forget_scores(struct trial *t) {
    scores_free(t->scores);
    view_free(t->view);
    rulings_free(t->rulings);
    t->scores = NULL;
    t->view = NULL;
    t->rulings = NULL;
}

int trial_score(struct trial *t, struct view_request request) {
    forget_scores(t);
    if (decisions_settle(t->decisions, "decisions", NULL) == ERR_NOMEM)
        return ERR_NOMEM;
    t->event.rulings = NULL;
    int err = rulings_build(&t->event, &t->rulings);
    t->event.rulings = t->rulings;
    if (err == ERR_OK)
        err = view_new(&t->event, request, &t->view);
    if (err == ERR_OK)
        err = scores_new(&t->event, t->view, &t->scores);
    return err;
}

void trial_free(struct trial *t) {
    if (t == NULL)
        return;
    forget_scores(t);
    readings_free(t->readings);
    decisions_free(t->decisions);
    free(t);
}
