/* SPDX-License-Identifier: MIT */
#include "api_proposal.h"

#include <string.h>

#include "check.h"
#include "err.h"
#include "output.h"
#include "problem.h"

static void write_problems(struct textbuf *b, const char *name, const struct problems *problems,
                           enum problem_level level) {
    const char *sep = "";
    textbuf_printf(b, "\"%s\":[", name);
    for (size_t i = 0; i < problems->count; i++) {
        if (problems->list[i].level != level)
            continue;
        textbuf_printf(b, "%s\n{\"place\":", sep);
        json_write_text(b, problems->list[i].place);
        textbuf_puts(b, ",\"text\":");
        json_write_text(b, problems->list[i].text);
        textbuf_putc(b, '}');
        sep = ",";
    }
    textbuf_putc(b, ']');
}

/* Puts the facts that are there into the event as it would be; those that would lose their place
 * are told. Returns ERR_OK or ERR_NOMEM. */
static int move_facts(const struct snapshot *s, const struct event *next, struct textbuf *lost) {
    const struct event *event = &s->event;
    struct textbuf reason = {0};
    const char *sep = "";
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && i < event->upto; i++) {
        const struct reading *reading = readings_at(event->readings, i);
        textbuf_reset(&reason);
        enum reading_result result = readings_add(next->readings, &reading->text, &reason, NULL);
        if (result == READING_NOMEM)
            err = ERR_NOMEM;
        if (result != READING_REFUSED)
            continue;
        textbuf_printf(lost, "%s\n{\"reading\":", sep);
        json_write_text(lost, reading->id);
        textbuf_puts(lost, ",\"reason\":");
        json_write_text(lost, textbuf_text(&reason));
        textbuf_putc(lost, '}');
        sep = ",";
    }
    for (int i = 0; err == ERR_OK && i < s->set->log_count; i++) {
        const struct decision *decision = s->set->log[i].decision;
        textbuf_reset(&reason);
        enum decision_result result =
            decisions_add(next->decisions, &decision->text, &reason, NULL);
        if (result == DECISION_NOMEM)
            err = ERR_NOMEM;
        if (result != DECISION_REFUSED)
            continue;
        textbuf_printf(lost, "%s\n{\"decision\":", sep);
        json_write_text(lost, decision->id);
        textbuf_puts(lost, ",\"reason\":");
        json_write_text(lost, textbuf_text(&reason));
        textbuf_putc(lost, '}');
        sep = ",";
    }
    textbuf_clear(&reason);
    return err;
}

static bool same_entry(const struct entry *a, const struct entry *b) {
    return strcmp(a->driver, b->driver) == 0 && strcmp(a->navigator, b->navigator) == 0 &&
           strcmp(a->make, b->make) == 0 && strcmp(a->model, b->model) == 0 && a->year == b->year &&
           a->engine_cc == b->engine_cc && a->supercharged == b->supercharged &&
           strcmp(a->category_text, b->category_text) == 0 && strcmp(a->team, b->team) == 0 &&
           strcmp(a->country, b->country) == 0 && strcmp(a->club, b->club) == 0;
}

/* Numbers of the cars of `list` that are not in `other` (or, with `changed`, are there and not the
 * same). */
static void write_cars(struct textbuf *b, const char *name, const struct entries *list,
                       const struct entries *other, bool changed) {
    const char *sep = "";
    textbuf_printf(b, ",\"%s\":[", name);
    for (int i = 0; i < list->count; i++) {
        int there = entries_find(other, list->list[i].number);
        bool wanted =
            changed ? there >= 0 && !same_entry(&list->list[i], &other->list[there]) : there < 0;
        if (!wanted)
            continue;
        textbuf_printf(b, "%s%d", sep, list->list[i].number);
        sep = ",";
    }
    textbuf_putc(b, ']');
}

static unsigned try_document(struct request *r, struct textbuf *b, bool rules) {
    const struct model *model = r->snapshot->set->model;
    const struct file_text own = {r->body == NULL ? "" : r->body, r->body_len};
    struct event_files files = {
        .rules = {model->rules.text, model->rules.len},
        .entries = {model->entries.text, model->entries.len},
        .starts = {model->starts.len > 0 ? model->starts.text : NULL, model->starts.len},
    };
    struct problems problems = {0};
    struct textbuf lost = {0};
    struct event *next = NULL;
    if (rules)
        files.rules = own;
    else
        files.entries = own;
    int err = event_read(&files, &problems, &next);
    if (err == ERR_OK && strcmp(next->rules->slug, r->held->slug) != 0)
        problems_add_at(&problems, PROBLEM_ERROR, "event.json: slug", "must stay as it is");
    if (err == ERR_OK)
        err = move_facts(r->snapshot, next, &lost);
    if (err == ERR_OK)
        err = decisions_settle(next->decisions, "decisions", NULL) == ERR_NOMEM
                  ? ERR_NOMEM
                  : event_settle(next);
    if (err == ERR_OK)
        err = check_event(next, &problems);
    if (err != ERR_NOMEM && !problems_out_of_memory(&problems) && !lost.failed) {
        textbuf_printf(b, "{\"taken\":%s,",
                       err == ERR_OK && lost.len == 0 && !problems_fatal(&problems) ? "true"
                                                                                    : "false");
        write_problems(b, "errors", &problems, PROBLEM_ERROR);
        textbuf_putc(b, ',');
        write_problems(b, "warnings", &problems, PROBLEM_WARNING);
        textbuf_putc(b, ',');
        write_problems(b, "doubts", &problems, PROBLEM_DOUBT);
        textbuf_puts(b, ",\"lost\":[");
        textbuf_puts(b, textbuf_text(&lost));
        textbuf_putc(b, ']');
        if (err == ERR_OK) {
            const struct entries *now = r->snapshot->event.entries;
            textbuf_printf(b, ",\"cars\":%d", next->entries->count);
            write_cars(b, "added", next->entries, now, false);
            write_cars(b, "changed", next->entries, now, true);
            write_cars(b, "gone", now, next->entries, false);
        }
        textbuf_puts(b, "}\n");
        err = ERR_OK;
    } else {
        err = ERR_NOMEM;
    }
    event_free(next);
    problems_clear(&problems);
    textbuf_clear(&lost);
    return err == ERR_OK
               ? MHD_HTTP_OK
               : request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
}

unsigned act_try_rules(struct request *r, struct textbuf *b) {
    return try_document(r, b, true);
}

unsigned act_try_entries(struct request *r, struct textbuf *b) {
    return try_document(r, b, false);
}
