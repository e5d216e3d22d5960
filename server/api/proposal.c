/* SPDX-License-Identifier: MIT */
#include "api/proposal.h"

#include <string.h>

#include "api/api.h"
#include "api/arguments.h"
#include "api/bodies.h"
#include "api/effects.h"
#include "api/event_object.h"
#include "base/err.h"
#include "base/problem.h"
#include "format/json_write.h"
#include "http/request.h"
#include "office/check.h"
#include "office/rule_examples.h"
#include "output/output.h"

static void write_problems(struct textbuf *b, const char *name, const struct problems *problems,
                           enum problem_level level) {
    json_member_array(b, name);
    for (size_t i = 0; i < problems->count; i++) {
        if (problems->list[i].level != level)
            continue;
        json_line(b);
        json_open_object(b);
        json_member_text(b, "place", problems->list[i].place);
        json_member_text(b, "text", problems->list[i].text);
        json_close_object(b);
    }
    json_close_array(b);
}

static void write_lost(struct textbuf *lost, const char *what, const char *id,
                       const struct textbuf *reason) {
    json_line(lost);
    json_open_object(lost);
    json_member_text(lost, what, id);
    json_member_text(lost, "reason", textbuf_text(reason));
    json_close_object(lost);
}

/* Puts the facts that are there into the event as it would be; those that would lose their place
 * are told. Returns ERR_OK or ERR_NOMEM. */
static int move_facts(struct request *r, struct model *next, struct textbuf *lost) {
    const struct event *event = &r->snapshot->event;
    struct textbuf *reason = request_text(r);
    for (int i = 0; i < event->readings.count; i++) {
        const struct reading *reading = readings_view_at(event->readings, i);
        textbuf_reset(reason);
        enum fact_result result = readings_add(next->readings, &reading->text, reason, NULL);
        if (result == FACT_NOMEM)
            return ERR_NOMEM;
        if (result == FACT_REFUSED)
            write_lost(lost, "reading", reading->id, reason);
    }
    for (int i = 0; i < event->decisions.count; i++) {
        const struct decision *decision = event->decisions.list[i].decision;
        textbuf_reset(reason);
        enum fact_result result = decisions_add(next->decisions, &decision->text, reason, NULL);
        if (result == FACT_NOMEM)
            return ERR_NOMEM;
        if (result == FACT_REFUSED)
            write_lost(lost, "decision", decision->id, reason);
    }
    return reason->failed ? ERR_NOMEM : ERR_OK;
}

/* True where one entry names no group that the other lacks. Their bits are places among the groups
 * of their own event, which a proposal may have in another order. */
static bool groups_are_among(const struct event *event, const struct entry *entry,
                             const struct event *other_event, const struct entry *other) {
    for (int g = 0; g < event->rules->group_count; g++) {
        const char *id = event->rules->groups[g].id;
        if ((entry->groups >> g & 1) == 0)
            continue;
        int place = rules_group_of(other_event->rules, id, strlen(id));
        if (place < 0 || (other->groups >> place & 1) == 0)
            return false;
    }
    return true;
}

static bool same_entry(const struct entry *a, const struct entry *b) {
    return strcmp(a->driver, b->driver) == 0 && strcmp(a->navigator, b->navigator) == 0 &&
           strcmp(a->make, b->make) == 0 && strcmp(a->model, b->model) == 0 && a->year == b->year &&
           a->engine_cc == b->engine_cc && a->supercharged == b->supercharged &&
           strcmp(a->category_text, b->category_text) == 0 && a->coefficient == b->coefficient &&
           a->born == b->born && strcmp(a->team, b->team) == 0 &&
           strcmp(a->country, b->country) == 0 && strcmp(a->club, b->club) == 0;
}

/* Numbers of the cars of `list` that are not in `other` (or, with `changed`, are there and not the
 * same). */
static void write_cars(struct textbuf *b, const char *name, const struct event *list,
                       const struct event *other, bool changed) {
    json_member_array(b, name);
    for (int i = 0; i < list->entries->count; i++) {
        const struct entry *entry = &list->entries->list[i];
        int there = entries_find(other->entries, entry->number);
        const struct entry *was = there < 0 ? NULL : &other->entries->list[there];
        bool same = was != NULL && same_entry(entry, was) &&
                    groups_are_among(list, entry, other, was) &&
                    groups_are_among(other, was, list, entry);
        if (changed ? was != NULL && !same : was == NULL)
            json_write_int(b, entry->number);
    }
    json_close_array(b);
}

/* Who would move where under new rules, and one card by them; the entry list is the same. Returns
 * ERR_OK or ERR_NOMEM. */
static int write_moves(struct request *r, const struct event *next, struct textbuf *b) {
    struct shown_scores s;
    const struct effect *effect = NULL;
    int err = request_scores_of(r, next, r->results->view->request, &s);
    if (err == ERR_OK)
        err = request_effect(r, r->results->scores, s.scores, &effect);
    if (err != ERR_OK)
        return err;
    effect_write_members(b, effect);
    /* One from the middle: it shows more of the rules than the leader, who lost little. */
    struct output_head head = {view_status(s.view), 0, NULL};
    json_key(b, "example");
    output_card_json(b, s.scores, s.scores->order[s.scores->placed / 2], &head);
    return ERR_OK;
}

/* The documents in force, to put a proposed one among them. */
static struct event_files files_in_force(const struct request *r) {
    const struct documents *in_force = r->snapshot->set->documents;
    const struct sent_document *starts = &in_force->starts;
    return (struct event_files){
        .rules = {in_force->rules.text, in_force->rules.len},
        .entries = {in_force->entries.text, in_force->entries.len},
        .starts = {starts->len > 0 ? starts->text : NULL, starts->len},
    };
}

static struct file_text body_of(const struct request *r) {
    return (struct file_text){r->body, r->body_len};
}

static void free_model(void *model) {
    model_free(model);
}

/* Reads an event as it would be. Otherwise as model_read; the model ends with the request. */
static int read_model(struct request *r, const struct event_files *files, struct problems *problems,
                      struct model **out) {
    int err = model_read(files, problems, out);
    return request_owns(r, *out, free_model) ? err : ERR_NOMEM;
}

/* Reads the event with a proposed document, and puts the facts into it. Returns: ERR_OK; ERR_INPUT,
 * reported; ERR_NOMEM. */
static int propose(struct request *r, const struct event_files *files, struct problems *problems,
                   struct textbuf *lost, struct model **next) {
    int err = read_model(r, files, problems, next);
    if (err == ERR_OK && strcmp((*next)->rules->slug, r->served->slug) != 0)
        problems_add_at(problems, PROBLEM_ERROR, "event.json: slug", "must stay as it is");
    if (err == ERR_OK)
        err = move_facts(r, *next, lost);
    if (err == ERR_OK)
        err = decisions_settle((*next)->decisions, "decisions", NULL) == ERR_NOMEM
                  ? ERR_NOMEM
                  : model_settle(*next);
    return err == ERR_OK ? check_event(*next, problems) : err;
}

unsigned proposal_try(struct request *r, struct textbuf *b, struct file_text own, bool rules,
                      const struct textbuf *more) {
    struct event_files files = files_in_force(r);
    struct problems *problems = request_problems(r);
    struct textbuf *lost = request_text(r);
    struct model *next = NULL;
    if (rules)
        files.rules = own;
    else
        files.entries = own;
    int err = problems == NULL ? ERR_NOMEM : propose(r, &files, problems, lost, &next);
    if (err == ERR_NOMEM || problems_out_of_memory(problems) || lost->failed)
        return request_no_memory(r);
    bool good = err == ERR_OK && lost->len == 0;
    json_open_object(b);
    json_member_bool(b, "taken", good && !problems_fatal(problems));
    write_problems(b, "errors", problems, PROBLEM_ERROR);
    write_problems(b, "warnings", problems, PROBLEM_WARNING);
    write_problems(b, "doubts", problems, PROBLEM_DOUBT);
    json_member_array(b, "lost");
    json_write_raw(b, lost->bytes, lost->len);
    json_close_array(b);
    if (err == ERR_OK) {
        const struct event *now = &r->snapshot->event;
        json_member_int(b, "cars", next->entries->count);
        write_cars(b, "added", &next->event, now, false);
        write_cars(b, "changed", &next->event, now, true);
        write_cars(b, "gone", now, &next->event, false);
    }
    if (good && rules && write_moves(r, &next->event, b) != ERR_OK)
        return request_no_memory(r);
    if (more != NULL)
        json_write_raw(b, more->bytes, more->len);
    json_close_document(b);
    return MHD_HTTP_OK;
}

unsigned proposal_refuse(struct request *r, struct textbuf *b, const struct problems *problems,
                         const struct textbuf *more) {
    static const char *const empty[] = {"warnings", "doubts", "lost"};
    json_open_object(b);
    json_member_bool(b, "taken", false);
    write_problems(b, "errors", problems, PROBLEM_ERROR);
    for (size_t i = 0; i < sizeof empty / sizeof empty[0]; i++) {
        json_member_array(b, empty[i]);
        json_close_array(b);
    }
    json_write_raw(b, more->bytes, more->len);
    json_close_document(b);
    return more->failed || problems_out_of_memory(problems) ? request_no_memory(r) : MHD_HTTP_OK;
}

unsigned act_try_rules(struct request *r, struct textbuf *b) {
    return proposal_try(r, b, body_of(r), true, NULL);
}

unsigned act_try_entries(struct request *r, struct textbuf *b) {
    return proposal_try(r, b, body_of(r), false, NULL);
}

unsigned act_examples(struct request *r, struct textbuf *b) {
    const char *id = r->args[1];
    struct event_files files = files_in_force(r);
    struct problems *problems = request_problems(r);
    struct model *model = NULL;
    files.rules = body_of(r);
    int err = problems == NULL ? ERR_NOMEM : read_model(r, &files, problems, &model);
    if (err != ERR_OK && err != ERR_INPUT)
        return request_no_memory(r);
    int item = err == ERR_OK ? strmap_get(&model->rules->item_by_id, id) : -1;
    json_open_object(b);
    write_problems(b, "errors", problems, PROBLEM_ERROR);
    json_member_text(b, "item", id);
    json_key(b, "examples");
    if (item >= 0) {
        err = rule_examples_write(model, item, b);
    } else {
        json_open_array(b);
        json_close_array(b);
        err = ERR_OK;
    }
    json_close_document(b);
    return err == ERR_OK && !problems_out_of_memory(problems) ? MHD_HTTP_OK : request_no_memory(r);
}
