/* SPDX-License-Identifier: MIT */
#include "event/decisions.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/strmap.h"
#include "base/textbuf.h"
#include "event/fact.h"

struct decisions {
    const struct rules *rules;
    const struct entries *entries;
    struct arena *arena;
    struct decision **list; /* each stays where it is; rulings point at them */
    bool *holds;
    size_t count;
    size_t cap, holds_cap;
    struct strmap by_id;
};

const char *const decision_field_names[DECISION_FIELD_COUNT] = {"kind",   "car", "point", "value",
                                                                "reason", "at",  "by",    "id"};

/* What each kind takes: the table of the contract. */
static const struct {
    const char *word;
    bool car;
    enum { NO_POINT, NEEDS_POINT, MAY_POINT } point;
    enum { NO_VALUE, DURATION, PENALTY, PENALTY_OR_LESS, DAY_NUMBER, ID_OF_DECISION } value;
} forms[DECIDE_COUNT] = {
    [DECIDE_ALLOWANCE] = {"allowance", true, NEEDS_POINT, DURATION},
    [DECIDE_PENALTY] = {"penalty", true, NO_POINT, PENALTY_OR_LESS},
    [DECIDE_WAIVE] = {"waive", true, NEEDS_POINT, NO_VALUE},
    [DECIDE_NOTIONAL] = {"notional", true, NEEDS_POINT, PENALTY},
    [DECIDE_CANCEL] = {"cancel", false, NEEDS_POINT, NO_VALUE},
    [DECIDE_CLOSE] = {"close", false, NEEDS_POINT, NO_VALUE},
    [DECIDE_RETIRE] = {"retire", true, MAY_POINT, NO_VALUE},
    [DECIDE_REJOIN] = {"rejoin", true, NO_POINT, DAY_NUMBER},
    [DECIDE_DISQUALIFY] = {"disqualify", true, NO_POINT, NO_VALUE},
    [DECIDE_REVOKE] = {"revoke", false, NO_POINT, ID_OF_DECISION},
};

const char *decision_word(enum decision_kind kind) {
    return forms[kind].word;
}

struct decisions *decisions_new(const struct rules *rules, const struct entries *entries) {
    struct decisions *d = calloc(1, sizeof *d);
    if (d == NULL)
        return NULL;
    d->rules = rules;
    d->entries = entries;
    d->arena = arena_new();
    if (d->arena == NULL) {
        free(d);
        return NULL;
    }
    return d;
}

void decisions_free(struct decisions *d) {
    if (d == NULL)
        return;
    strmap_clear(&d->by_id);
    free(d->list);
    free(d->holds);
    arena_free(d->arena);
    free(d);
}

void decision_derive_id(const struct decision_text *text, struct textbuf *id) {
    fact_derive_id(text->field, DECISION_HASHED, id);
}

static bool parse_target(const struct decisions *d, const struct decision_text *text,
                         struct decision *out, struct textbuf *reason) {
    const char *point = text->field[DECISION_POINT];
    out->target = TARGET_NONE;
    if (*point == '\0')
        return true;
    int64_t day;
    if (out->kind == DECIDE_CLOSE && strncmp(point, "day:", 4) == 0) {
        if (decimal_parse_whole(point + 4, 1, d->rules->day_count, &day) != ERR_OK) {
            textbuf_printf(reason, "“%s” is no day of this event", point);
            return false;
        }
        out->target = TARGET_DAY;
        out->place = (int)day - 1;
        return true;
    }
    /* A control's id is both its item's and its point's; the item stands for all its points. */
    out->place = strmap_get(&d->rules->item_by_id, point);
    out->target = TARGET_ITEM;
    if (out->place < 0) {
        out->place = strmap_get(&d->rules->point_by_id, point);
        out->target = TARGET_POINT;
    }
    if (out->place < 0) {
        textbuf_printf(reason, "point “%s” is not on the route", point);
        return false;
    }
    return true;
}

/* Whether the kind can be given there. False with a reason. */
static bool fits(const struct decisions *d, const struct decision_text *text, struct decision *out,
                 struct textbuf *reason) {
    const char *id = text->field[DECISION_POINT];
    const struct rules *rules = d->rules;
    if (out->kind == DECIDE_ALLOWANCE) {
        if (out->target == TARGET_ITEM && rules->items[out->place].kind == KIND_TIME_CONTROL) {
            out->place = rules->items[out->place].first_point;
            out->target = TARGET_POINT;
            return true;
        }
        if (out->target == TARGET_POINT && (rules->points[out->place].role == ROLE_CHECK ||
                                            rules->points[out->place].role == ROLE_START))
            return true;
        textbuf_printf(reason,
                       "an allowance is given at a time control, a check, a pad or a start, not "
                       "at “%s”",
                       id);
        return false;
    }
    if (out->target != TARGET_POINT ||
        (out->kind != DECIDE_CANCEL && out->kind != DECIDE_WAIVE && out->kind != DECIDE_NOTIONAL))
        return true;
    const struct point *point = &rules->points[out->place];
    /* The reference lap is not scored, yet its faults fall away with it. */
    if (point->role == ROLE_LAP && (point->scored >= 0 || out->kind != DECIDE_NOTIONAL))
        return true;
    if (point->scored >= 0 && point->role != ROLE_FINISH)
        return true;
    textbuf_printf(reason, "“%s” is not scored by itself; name a scored point or “%s”", id,
                   rules->items[point->item].id);
    return false;
}

static bool parse_value(const struct decisions *d, const struct decision_text *text,
                        struct decision *out, struct textbuf *reason) {
    const char *value = text->field[DECISION_VALUE];
    static const char *const needed[] = {[DURATION] = "a duration",
                                         [PENALTY] = "a penalty",
                                         [PENALTY_OR_LESS] = "a penalty",
                                         [DAY_NUMBER] = "a day number",
                                         [ID_OF_DECISION] = "the id of a decision"};
    int err = ERR_OK;
    if (*value == '\0' && forms[out->kind].value != NO_VALUE) {
        textbuf_printf(reason, "%s needs %s as value", forms[out->kind].word,
                       needed[forms[out->kind].value]);
        return false;
    }
    switch (forms[out->kind].value) {
    case NO_VALUE:
        if (*value == '\0')
            return true;
        textbuf_printf(reason, "%s takes no value, but has “%s”", forms[out->kind].word, value);
        return false;
    case DURATION:
        err = duration_parse(value, &out->value);
        break;
    case PENALTY:
    case PENALTY_OR_LESS:
        err = decimal_parse(value, &out->value);
        if (err == ERR_OK && forms[out->kind].value == PENALTY && out->value < 0)
            err = ERR_RANGE;
        break;
    case DAY_NUMBER:
        err = decimal_parse_whole(value, 1, d->rules->day_count, &out->value);
        out->value--;
        break;
    case ID_OF_DECISION:
        err = fact_id_is_good(value) ? ERR_OK : ERR_SYNTAX;
        break;
    }
    if (err == ERR_OK)
        return true;
    if (err == ERR_PRECISION)
        textbuf_printf(reason, "value “%s” has more than three decimals", value);
    else
        textbuf_printf(reason, "value “%s” is not %s", value,
                       forms[out->kind].value == DURATION         ? "a duration"
                       : forms[out->kind].value == DAY_NUMBER     ? "a day of this event"
                       : forms[out->kind].value == ID_OF_DECISION ? "an id of a decision"
                                                                  : "a penalty");
    return false;
}

static bool is_blank(const char *text) {
    return text[strspn(text, " \t\r\n")] == '\0';
}

static bool parse_decision(const struct decisions *d, const struct decision_text *text,
                           struct decision *out, struct textbuf *reason) {
    const char *word = text->field[DECISION_KIND];
    const char *car = text->field[DECISION_CAR];
    const char *point = text->field[DECISION_POINT];
    const char *id = text->field[DECISION_ID];
    const char *at = text->field[DECISION_AT];
    int kind = 0;
    while (kind < DECIDE_COUNT && strcmp(forms[kind].word, word) != 0)
        kind++;
    if (kind == DECIDE_COUNT) {
        textbuf_printf(reason, "kind “%s” is not known", word);
        return false;
    }
    out->kind = (enum decision_kind)kind;
    out->car = -1;
    if (*id != '\0' && !fact_id_is_good(id)) {
        textbuf_printf(reason, "id “%s” must be 1 to 64 of A-Z a-z 0-9 . _ : -", id);
        return false;
    }
    if (forms[kind].car) {
        int64_t number;
        if (decimal_parse_whole(car, 1, NUMBER_MAX, &number) == ERR_OK)
            out->car = entries_find(d->entries, number);
        if (*car == '\0')
            textbuf_printf(reason, "%s needs a car", word);
        else if (out->car < 0)
            textbuf_printf(reason, "car “%s” is not in the entry list", car);
        if (out->car < 0)
            return false;
    } else if (*car != '\0') {
        textbuf_printf(reason, "%s takes no car, but has “%s”", word, car);
        return false;
    }
    if (forms[kind].point == NEEDS_POINT && *point == '\0') {
        textbuf_printf(reason, "%s needs a point", word);
        return false;
    }
    if (forms[kind].point == NO_POINT && *point != '\0') {
        textbuf_printf(reason, "%s takes no point, but has “%s”", word, point);
        return false;
    }
    if (is_blank(text->field[DECISION_REASON])) {
        textbuf_puts(reason, "the reason is empty");
        return false;
    }
    if (*at != '\0' && instant_parse(at, &out->at) != ERR_OK) {
        textbuf_printf(reason, "at “%s” is no RFC 3339 time with offset", at);
        return false;
    }
    out->has_at = *at != '\0';
    return parse_target(d, text, out, reason) && fits(d, text, out, reason) &&
           parse_value(d, text, out, reason);
}

/* Known from the one that is named, so that nobody has to follow the chain. */
static int end_of_chain(const struct decisions *d, const struct decision *decision) {
    int target = decision->kind == DECIDE_REVOKE
                     ? strmap_get(&d->by_id, decision->text.field[DECISION_VALUE])
                     : -1;
    if (target < 0 || (size_t)target == d->count) /* one that names itself is told later */
        return -1;
    return d->list[target]->kind == DECIDE_REVOKE ? d->list[target]->ends : target;
}

static enum decision_result add(struct decisions *d, const struct decision_text *text, bool keep,
                                struct textbuf *reason, int *index) {
    struct textbuf derived = {0};
    struct decision decision = {0};
    enum decision_result result = DECISION_NOMEM;
    if (!parse_decision(d, text, &decision, reason))
        return DECISION_REFUSED;
    const char *id = text->field[DECISION_ID];
    if (*id == '\0') {
        decision_derive_id(text, &derived);
        if (derived.failed)
            goto done;
        id = textbuf_text(&derived);
    }
    int32_t known = strmap_get(&d->by_id, id);
    if (known >= 0) {
        if (index != NULL)
            *index = known;
        result = DECISION_DUPLICATE;
        if (!fact_same(text->field, d->list[known]->text.field, DECISION_HASHED)) {
            textbuf_printf(reason, "id “%s” is there already with other content", id);
            result = DECISION_REFUSED;
        }
        goto done;
    }
    if (!keep) {
        result = DECISION_ADDED;
        goto done;
    }
    struct decision **list = array_reserve(d->list, &d->cap, d->count + 1, sizeof *list);
    if (list == NULL)
        goto done;
    d->list = list;
    bool *holds = array_reserve(d->holds, &d->holds_cap, d->count + 1, sizeof *holds);
    if (holds == NULL)
        goto done;
    d->holds = holds;
    struct decision *kept = arena_alloc(d->arena, sizeof *kept);
    if (kept == NULL)
        goto done;
    decision.id = arena_text(d->arena, id, strlen(id));
    if (decision.id == NULL ||
        fact_keep(d->arena, text->field, DECISION_FIELD_COUNT, decision.text.field) != ERR_OK ||
        fact_keep_extras(d->arena, text->extras, &decision.text.extras) != ERR_OK ||
        strmap_put(&d->by_id, decision.id, (int32_t)d->count) != ERR_OK)
        goto done;
    if (index != NULL)
        *index = (int)d->count;
    decision.ends = end_of_chain(d, &decision);
    *kept = decision;
    holds[d->count] = true;
    list[d->count++] = kept;
    result = DECISION_ADDED;
done:
    textbuf_clear(&derived);
    return result;
}

enum decision_result decisions_add(struct decisions *d, const struct decision_text *text,
                                   struct textbuf *reason, int *index) {
    return add(d, text, true, reason, index);
}

enum decision_result decisions_try(struct decisions *d, const struct decision_text *text,
                                   struct textbuf *reason) {
    return add(d, text, false, reason, NULL);
}

/* The decision that a revoke names, -1 where there is none. */
static int revoked_by(const struct decisions *d, size_t revoke) {
    return strmap_get(&d->by_id, d->list[revoke]->text.field[DECISION_VALUE]);
}

/* Tells a wrong revoke; `problems` may be NULL. */
static void note_wrong(const struct decision *d, const char *what, const char *file,
                       struct problems *problems, int *err) {
    *err = ERR_INPUT;
    if (problems != NULL)
        problems_add(problems, PROBLEM_ERROR, file, d->line, "value “%s%s",
                     d->text.field[DECISION_VALUE], what);
}

/* A decision's fate is known once that of every revoke naming it is: from each that nobody revokes
 * the chain is followed as far as it is known, so that each is looked at twice at most. What is
 * never reached runs in a circle. */
static void settle_chains(struct decisions *d, int *waits, bool *known) {
    for (size_t i = 0; i < d->count; i++) {
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

/* The ends of chains whose revokes stand before what they name, as a file may have them: each is
 * looked at once, since all of a way get what it comes to. `seen` is room for a number each. */
static void settle_ends(struct decisions *d, int *seen) {
    memset(seen, 0, d->count * sizeof *seen);
    for (size_t i = 0; i < d->count; i++) {
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
    int *waits = calloc(d->count + 1, sizeof *waits);
    bool *known = calloc(d->count + 1, sizeof *known);
    if (waits == NULL || known == NULL) {
        free(waits);
        free(known);
        return ERR_NOMEM;
    }
    for (size_t i = 0; i < d->count; i++) {
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
    /* A circle is one fault, told at its first revoke. */
    for (size_t i = 0; i < d->count; i++) {
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

int decisions_read(struct decisions *d, const char *file, const char *text, size_t len,
                   struct problems *problems) {
    struct column columns[DECISION_FIELD_COUNT];
    struct csv_columns table;
    struct textbuf reason = {0};
    size_t errors_before = problems->by_level[PROBLEM_ERROR];
    for (int i = 0; i < DECISION_FIELD_COUNT; i++)
        columns[i] = (struct column){decision_field_names[i], i <= DECISION_REASON};
    int err = csv_columns_open(&table, file, text, len, columns, DECISION_FIELD_COUNT, d->arena,
                               problems);
    while (err == ERR_OK) {
        enum csv_result row = csv_columns_next(&table);
        if (row == CSV_END)
            break;
        if (row == CSV_NOMEM) {
            err = ERR_NOMEM;
            break;
        }
        if (row == CSV_BAD) {
            problems_add(problems, PROBLEM_ERROR, file, table.csv.line, "%s", table.csv.wrong);
            continue;
        }
        struct decision_text fields = {0};
        for (size_t i = 0; i < DECISION_FIELD_COUNT; i++)
            fields.field[i] = csv_columns_field(&table, i);
        err = csv_columns_extras(&table, &fields.extras);
        if (err != ERR_OK)
            break;
        int index = -1;
        textbuf_reset(&reason);
        switch (decisions_add(d, &fields, &reason, &index)) {
        case DECISION_REFUSED:
            problems_add(problems, PROBLEM_ERROR, file, table.csv.line, "%s",
                         textbuf_text(&reason));
            break;
        case DECISION_NOMEM:
            err = ERR_NOMEM;
            break;
        case DECISION_ADDED:
            d->list[index]->line = table.csv.line;
            break;
        case DECISION_DUPLICATE:
            break;
        }
    }
    /* What a revoke names may be a row that was wrong: one fault is told once. */
    if (err == ERR_OK && problems->by_level[PROBLEM_ERROR] == errors_before)
        err = decisions_settle(d, file, problems);
    if (reason.failed || problems_out_of_memory(problems))
        err = ERR_NOMEM;
    else if (err == ERR_OK && problems->by_level[PROBLEM_ERROR] > errors_before)
        err = ERR_INPUT;
    textbuf_clear(&reason);
    csv_columns_close(&table);
    return err;
}

int decisions_count(const struct decisions *d) {
    return (int)d->count;
}

const struct decision *decisions_at(const struct decisions *d, int index) {
    return d->list[index];
}

int decisions_find(const struct decisions *d, const char *id) {
    return strmap_get(&d->by_id, id);
}

int decisions_list(const struct decisions *d, struct decision_list *out) {
    out->count = 0;
    out->list = calloc(d->count + 1, sizeof *out->list);
    if (out->list == NULL)
        return ERR_NOMEM;
    out->count = (int)d->count;
    for (size_t i = 0; i < d->count; i++)
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
