/* SPDX-License-Identifier: MIT */
#include "event.h"

#include <limits.h>
#include <stdlib.h>

#include "err.h"
#include "problem.h"

static int missing(struct problems *problems, const char *file) {
    problems_add(problems, PROBLEM_ERROR, file, 0, "the file is missing");
    return ERR_INPUT;
}

/* Each file is read even where one before it is wrong, so that one run tells all; but nothing
 * can be said of a file without those it refers to. */
static int read_files(struct event *event, const struct event_files *files,
                      struct problems *problems) {
    int err = files->rules.text == NULL
                  ? missing(problems, "event.json")
                  : rules_read(files->rules.text, files->rules.len, problems, &event->rules);
    if (files->entries.text == NULL)
        (void)missing(problems, "entries.csv");
    if (err != ERR_OK)
        return err;
    if (files->entries.text == NULL)
        return ERR_INPUT;
    err = entries_read(event->rules, files->entries.text, files->entries.len, files->starts.text,
                       files->starts.len, problems, &event->entries);
    if (err != ERR_OK)
        return err;
    event->readings = readings_new(event->rules, event->entries);
    event->decisions = decisions_new(event->rules, event->entries);
    if (event->readings == NULL || event->decisions == NULL)
        return ERR_NOMEM;
    if (files->readings.text != NULL)
        err = readings_read(event->readings, "readings.csv", files->readings.text,
                            files->readings.len, problems);
    if (err == ERR_NOMEM)
        return err;
    int second = ERR_OK;
    if (files->decisions.text != NULL)
        second = decisions_read(event->decisions, "decisions.csv", files->decisions.text,
                                files->decisions.len, problems);
    return err != ERR_OK ? err : second;
}

int event_read(const struct event_files *files, struct problems *problems, struct event **out) {
    struct event *event = calloc(1, sizeof *event);
    *out = NULL;
    if (event == NULL)
        return ERR_NOMEM;
    event->upto = READINGS_ALL;
    int err = read_files(event, files, problems);
    if (err == ERR_OK)
        err = event_settle(event);
    if (err == ERR_OK && problems_out_of_memory(problems))
        err = ERR_NOMEM;
    if (err == ERR_OK)
        *out = event;
    else
        event_free(event);
    return err;
}

int event_settle(struct event *event) {
    struct rulings *rulings = NULL;
    int err = rulings_build(event, &rulings);
    if (err != ERR_OK)
        return err;
    rulings_free(event->rulings);
    event->rulings = rulings;
    return ERR_OK;
}

void event_free(struct event *event) {
    if (event == NULL)
        return;
    rulings_free(event->rulings);
    decisions_free(event->decisions);
    readings_free(event->readings);
    entries_free(event->entries);
    rules_free(event->rules);
    free(event);
}
