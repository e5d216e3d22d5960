/* SPDX-License-Identifier: MIT */
#include "event/event.h"

#include <stdlib.h>

#include "base/err.h"
#include "base/problem.h"

static void missing(struct problems *problems, const char *file) {
    problems_add(problems, PROBLEM_ERROR, file, 0, "the file is missing");
}

/* Each file is read even where one before it is wrong, so that one run reports all; what refers to
 * something that could not be read is passed over. */
static int read_files(struct model *model, const struct event_files *files,
                      struct problems *problems) {
    if (files->rules.text == NULL)
        missing(problems, "event.json");
    int err = rules_read_partly(files->rules.text, files->rules.len, problems, &model->rules);
    if (err == ERR_NOMEM)
        return err;
    if (files->entries.text == NULL)
        missing(problems, "entries.csv");
    int second =
        entries_read_partly(model->rules, files->entries.text, files->entries.len,
                            files->starts.text, files->starts.len, problems, &model->entries);
    if (second == ERR_NOMEM)
        return second;
    err = err != ERR_OK ? err : second;
    model->readings = readings_new(model->rules, model->entries);
    model->decisions = decisions_new(model->rules, model->entries);
    if (model->readings == NULL || model->decisions == NULL)
        return ERR_NOMEM;
    if (files->readings.text != NULL) {
        second = readings_read(model->readings, "readings.csv", files->readings.text,
                               files->readings.len, problems);
        err = err != ERR_OK && second != ERR_NOMEM ? err : second;
    }
    if (err != ERR_NOMEM && files->unassigned.text != NULL) {
        second = readings_read_unassigned(model->readings, "unassigned.csv", files->unassigned.text,
                                          files->unassigned.len, problems);
        err = err != ERR_OK && second != ERR_NOMEM ? err : second;
    }
    if (err != ERR_NOMEM && files->decisions.text != NULL) {
        second = decisions_read(model->decisions, "decisions.csv", files->decisions.text,
                                files->decisions.len, problems);
        err = err != ERR_OK && second != ERR_NOMEM ? err : second;
    }
    return err;
}

int model_read(const struct event_files *files, struct problems *problems, struct model **out) {
    struct model *model = calloc(1, sizeof *model);
    *out = NULL;
    if (model == NULL)
        return ERR_NOMEM;
    int err = read_files(model, files, problems);
    if (err == ERR_OK)
        err = model_settle(model);
    if (err == ERR_OK && problems_out_of_memory(problems))
        err = ERR_NOMEM;
    if (err == ERR_OK)
        *out = model;
    else
        model_free(model);
    return err;
}

int model_settle(struct model *model) {
    struct event event = {.rules = model->rules,
                          .entries = model->entries,
                          .readings = readings_view(model->readings)};
    struct rulings *rulings = NULL;
    int err = decisions_list(model->decisions, &event.decisions);
    if (err == ERR_OK)
        err = rulings_build(&event, &rulings);
    if (err != ERR_OK) {
        decision_list_clear(&event.decisions);
        return err;
    }
    event.rulings = rulings;
    decision_list_clear(&model->event.decisions);
    rulings_free(model->rulings);
    model->event = event;
    model->rulings = rulings;
    return ERR_OK;
}

void model_free(struct model *model) {
    if (model == NULL)
        return;
    decision_list_clear(&model->event.decisions);
    rulings_free(model->rulings);
    decisions_free(model->decisions);
    readings_free(model->readings);
    entries_free(model->entries);
    rules_free(model->rules);
    free(model);
}
