/* SPDX-License-Identifier: MIT */
#include "event/decisions.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "base/problem.h"
#include "event/decision_form.h"
#include "event/fact_log.h"

struct decisions {
    const struct rules *rules;
    const struct entries *entries;
    struct fact_log log;
    struct decision **list; /* each stays where it is; rulings point at them */
    bool *holds;
    size_t cap, holds_cap;
};

const char *const decision_field_names[DECISION_FIELD_COUNT] = {"kind",   "car", "point", "value",
                                                                "reason", "at",  "by",    "id"};

static const struct fact_type type = {.names = decision_field_names,
                                      .fields = DECISION_FIELD_COUNT,
                                      .required = DECISION_REASON + 1,
                                      .shared = 1u << DECISION_KIND | 1u << DECISION_CAR |
                                                1u << DECISION_POINT | 1u << DECISION_BY,
                                      .wrong = PROBLEM_ERROR,
                                      .record = sizeof(struct decision)};

struct decisions *decisions_new(const struct rules *rules, const struct entries *entries) {
    struct decisions *d = calloc(1, sizeof *d);
    if (d == NULL)
        return NULL;
    d->rules = rules;
    d->entries = entries;
    if (fact_log_init(&d->log, &type) != ERR_OK) {
        free(d);
        return NULL;
    }
    return d;
}

void decisions_free(struct decisions *d) {
    if (d == NULL)
        return;
    fact_log_clear(&d->log);
    free(d->list);
    free(d->holds);
    free(d);
}

/* Where a new revoke's chain leads, taken from the revoke that it names: no chain is followed. */
static int end_of_chain(const struct decisions *d, const struct decision *decision) {
    int target = decision->kind == DECIDE_REVOKE
                     ? fact_log_find(&d->log, decision->text.field[DECISION_VALUE])
                     : -1;
    if (target < 0)
        return -1;
    return d->list[target]->kind == DECIDE_REVOKE ? d->list[target]->ends : target;
}

/* Makes space for one more decision. */
static int reserve(struct decisions *d) {
    struct decision **list = array_reserve(d->list, &d->cap, d->log.count + 1, sizeof *list);
    if (list == NULL)
        return ERR_NOMEM;
    d->list = list;
    bool *holds = array_reserve(d->holds, &d->holds_cap, d->log.count + 1, sizeof *holds);
    if (holds == NULL)
        return ERR_NOMEM;
    d->holds = holds;
    return ERR_OK;
}

/* Copies the faults that a decision tells into the log. */
static int keep_faults(struct decisions *d, const struct fault_count *faults,
                       struct decision *out) {
    size_t count = (size_t)out->fault_count;
    if (count == 0)
        return ERR_OK;
    struct fault_count *own = arena_array(d->log.arena, count, sizeof *own);
    if (own == NULL)
        return ERR_NOMEM;
    memcpy(own, faults, count * sizeof *own);
    out->faults = own;
    return ERR_OK;
}

/* Nothing of the log changes before the last allocation has succeeded. */
static enum fact_result append(struct decisions *d, const struct decision_text *text,
                               const char *id, const struct decision *parsed,
                               const struct fault_count *faults) {
    size_t place = d->log.count;
    struct decision *own = arena_alloc(d->log.arena, sizeof *own);
    if (own == NULL || reserve(d) != ERR_OK)
        return FACT_NOMEM;
    *own = *parsed;
    own->id = arena_text(d->log.arena, id, strlen(id));
    if (own->id == NULL || keep_faults(d, faults, own) != ERR_OK ||
        fact_log_keep(&d->log, text->field, text->extras, own->id, own->text.field,
                      &own->text.extras) != ERR_OK)
        return FACT_NOMEM;
    own->ends = end_of_chain(d, own);
    if (fact_log_enter(&d->log, own->id) != ERR_OK)
        return FACT_NOMEM;
    d->holds[place] = true;
    d->list[place] = own;
    return FACT_ADDED;
}

/* Adds a decision, or, with `try_only`, finds out whether it could be added. */
static enum fact_result take(struct decisions *d, const struct decision_text *text, bool try_only,
                             struct textbuf *reason, int *index) {
    struct decision decision = {0};
    struct fault_count faults[PARTS_MAX];
    char id[FACT_ID_MAX + 1];
    if (!decision_parse(d->rules, d->entries, text, &decision, faults, reason))
        return FACT_REFUSED;
    fact_id(text->field, DECISION_HASHED, id);
    int known = fact_log_find(&d->log, id);
    if (index != NULL)
        *index = known >= 0 ? known : (int)d->log.count;
    if (known >= 0)
        return fact_log_repeat(&d->log, id, text->field, d->list[known]->text.field, reason);
    return try_only ? FACT_ADDED : append(d, text, id, &decision, faults);
}

enum fact_result decisions_add(struct decisions *d, const struct decision_text *text,
                               struct textbuf *reason, int *index) {
    return take(d, text, false, reason, index);
}

enum fact_result decisions_try(struct decisions *d, const struct decision_text *text,
                               struct textbuf *reason) {
    return take(d, text, true, reason, NULL);
}

/* The decision that a revoke names, -1 where there is none. */
static int revoked_by(const struct decisions *d, size_t revoke) {
    return fact_log_find(&d->log, d->list[revoke]->text.field[DECISION_VALUE]);
}

/* Reports a wrong revoke; `problems` may be NULL. */
static void note_wrong(const struct decision *d, const char *what, const char *file,
                       struct problems *problems, int *err) {
    *err = ERR_INPUT;
    if (problems != NULL)
        problems_add(problems, PROBLEM_ERROR, file, d->line, "value “%s%s",
                     d->text.field[DECISION_VALUE], what);
}

/* Whether a decision holds is known once it is known for every revoke that names it (`waits` counts
 * those that are left). So each chain is followed from a decision that nothing revokes, up to the
 * first that still waits; each decision is visited twice at most. One that is never reached is part
 * of a circle. */
static void settle_chains(struct decisions *d, int *waits, bool *known) {
    for (size_t i = 0; i < d->log.count; i++) {
        size_t at = i;
        while (!known[at] && waits[at] == 0) {
            known[at] = true;
            int target = d->list[at]->kind == DECIDE_REVOKE ? revoked_by(d, at) : -1;
            if (target < 0)
                break;
            waits[target]--;
            if (d->holds[at])
                d->holds[target] = false;
            at = (size_t)target;
        }
    }
}

/* `ends` of revokes that were added before what they name, as may be in a file. Each is visited
 * once, since all revokes on the way get the same end. `seen` is scratch memory, one int for each.
 */
static void settle_ends(struct decisions *d, int *seen) {
    memset(seen, 0, d->log.count * sizeof *seen);
    for (size_t i = 0; i < d->log.count; i++) {
        int at = (int)i;
        int end = -1;
        while (at >= 0 && d->list[at]->kind == DECIDE_REVOKE && d->list[at]->ends < 0 &&
               seen[at] == 0) {
            seen[at] = 1;
            at = revoked_by(d, (size_t)at);
        }
        if (at >= 0)
            end = d->list[at]->kind == DECIDE_REVOKE ? d->list[at]->ends : at;
        for (at = (int)i; end >= 0 && d->list[at]->kind == DECIDE_REVOKE && d->list[at]->ends < 0;
             at = revoked_by(d, (size_t)at))
            d->list[at]->ends = end;
    }
}

int decisions_settle(struct decisions *d, const char *file, struct problems *problems) {
    int err = ERR_OK;
    int *waits = calloc(d->log.count + 1, sizeof *waits);
    bool *known = calloc(d->log.count + 1, sizeof *known);
    if (waits == NULL || known == NULL) {
        free(waits);
        free(known);
        return ERR_NOMEM;
    }
    for (size_t i = 0; i < d->log.count; i++) {
        d->holds[i] = true;
        if (d->list[i]->kind != DECIDE_REVOKE)
            continue;
        int target = revoked_by(d, i);
        if (target >= 0)
            waits[target]++;
        else
            note_wrong(d->list[i], "” is the id of no decision", file, problems, &err);
    }
    settle_chains(d, waits, known);
    /* A circle is one fault, reported at its first revoke. */
    for (size_t i = 0; i < d->log.count; i++) {
        if (!known[i] && d->list[i]->kind == DECIDE_REVOKE) {
            note_wrong(d->list[i], "”: the revokes run in a circle", file, problems, &err);
            break;
        }
    }
    settle_ends(d, waits);
    free(waits);
    free(known);
    return err;
}

static enum fact_result add_row(void *owner, const char *const *fields, struct extra *extras,
                                long line, struct textbuf *reason) {
    struct decisions *d = owner;
    struct decision_text text = {.extras = extras};
    int index = -1;
    memcpy(text.field, fields, sizeof text.field);
    enum fact_result result = decisions_add(d, &text, reason, &index);
    if (result == FACT_ADDED)
        d->list[index]->line = line;
    return result;
}

int decisions_read(struct decisions *d, const char *file, const char *text, size_t len,
                   struct problems *problems) {
    size_t errors_before = problems->by_level[PROBLEM_ERROR];
    int err = fact_log_read(&d->log, file, text, len, add_row, d, problems);
    /* Not where rows were wrong: a revoke may name one of them, and that is one error, not two. */
    if (err == ERR_OK && problems->by_level[PROBLEM_ERROR] == errors_before)
        err = decisions_settle(d, file, problems);
    if (problems_out_of_memory(problems))
        return ERR_NOMEM;
    return err == ERR_OK && problems->by_level[PROBLEM_ERROR] > errors_before ? ERR_INPUT : err;
}

int decisions_count(const struct decisions *d) {
    return (int)d->log.count;
}

const struct decision *decisions_at(const struct decisions *d, int index) {
    return d->list[index];
}

int decisions_find(const struct decisions *d, const char *id) {
    return fact_log_find(&d->log, id);
}

int decisions_list(const struct decisions *d, struct decision_list *out) {
    out->count = 0;
    out->list = calloc(d->log.count + 1, sizeof *out->list);
    if (out->list == NULL)
        return ERR_NOMEM;
    out->count = (int)d->log.count;
    for (size_t i = 0; i < d->log.count; i++)
        out->list[i] = (struct listed_decision){d->list[i], d->holds[i]};
    return ERR_OK;
}

void decision_list_clear(struct decision_list *list) {
    free(list->list);
    *list = (struct decision_list){0};
}

bool decision_before(const struct decision *a, const struct decision *b) {
    return fact_before(a->has_at, a->at, a->id, b->has_at, b->at, b->id);
}
