/* SPDX-License-Identifier: MIT */
#include "office/check_rules.h"

#include "base/problem.h"
#include "base/textbuf.h"
#include "event/kind.h"
#include "event/penalty.h"
#include "office/event_doubt.h"
#include "scoring/kinds/regularity.h"

/* True where no deviation is ever early. */
static bool has_no_early_side(enum kind_id kind) {
    return kind == KIND_SPECIAL_TEST || kind == KIND_PASSAGE_CONTROL;
}

static const char within_grace[] =
    "lies within the grace, so that a car beyond it is missed although the grace lets it cost "
    "nothing: raise the limit, or lower the grace";

static const char no_limit[] =
    "never holds: a passage control has no time, and a special test's is held by its “maximum”. "
    "Leave it out";

static const char nothing_early[] =
    "never holds: nothing is early there. Leave it out, or limit a control, a check, a pad or a "
    "lap";

/* True where `part` changes nothing: what is counted in whole units of the clock has no parts of
 * them. Elsewhere ideals and targets that are given may leave some. */
static bool part_is_idle(enum kind_id kind, const struct penalty_rule *rule) {
    return kind == KIND_TIME_CONTROL && rule->part && rule->precision % rule->per == 0 &&
           (!rule->grace_deducted || rule->grace % rule->per == 0);
}

static bool is_coarse(const struct penalty_rule *rule) {
    return rule->precision > rule->per;
}

/* True where what a side costs once is more than its cap. */
static bool once_is_capped(const struct penalty_rule *rule, enum side side) {
    return rule->charge[side] == CHARGE_ONCE && rule->cap[side] != CAP_NONE &&
           rule->rate[side] > rule->cap[side];
}

static bool alike_once(const struct penalty_rule *a, const struct penalty_rule *b, enum side side) {
    return once_is_capped(a, side) && once_is_capped(b, side) && a->rate[side] == b->rate[side] &&
           a->cap[side] == b->cap[side];
}

/* What is doubtful of a limit of a rule; NULL where nothing is. */
static const char *why_no_limit(enum kind_id kind, const struct penalty_rule *rule,
                                enum side side) {
    int64_t limit = side == SIDE_EARLY ? rule->early_limit : rule->late_limit;
    if (limit == TIME_NONE)
        return NULL;
    if (has_no_early_side(kind))
        return side == SIDE_EARLY ? nothing_early : no_limit;
    return limit < rule->grace ? within_grace : NULL;
}

static void check_limits(enum kind_id kind, const struct penalty_rule *rule,
                         const struct penalty_rule *inherited, const char *path,
                         struct problems *problems) {
    static const char *const keys[] = {".early_limit", ".late_limit"};
    for (int i = SIDE_EARLY; i < SIDE_COUNT; i++) {
        const char *why = why_no_limit(kind, rule, (enum side)i);
        if (why != NULL &&
            (inherited == NULL || why_no_limit(kind, inherited, (enum side)i) != why))
            event_doubt(problems, path, -1, keys[i], why);
    }
}

/* Why nobody is charged by the step that begins at a deviation; NULL where somebody may be. */
static const char *why_no_step(enum kind_id kind, const struct penalty_rule *rule, enum side side,
                               int64_t from) {
    int64_t limit = has_no_early_side(kind) ? TIME_NONE
                    : side == SIDE_EARLY    ? rule->early_limit
                                            : rule->late_limit;
    int64_t deviation = from + (rule->grace_deducted ? rule->grace : 0);
    if (limit != TIME_NONE && limit <= deviation)
        return "is never reached: a deviation beyond the limit of this side is missed; raise the "
               "limit, or leave the step out";
    if (rule->cap[side] == CAP_NONE)
        return NULL;
    if (deviation > rule->grace &&
        penalty_price(rule, side == SIDE_EARLY ? -deviation : deviation).uncapped >=
            rule->cap[side])
        return "changes nothing: the steps before it cost the cap already; raise the cap, or "
               "leave the step out";
    return NULL;
}

/* The first step that nobody is charged by. */
static void check_steps(enum kind_id kind, const struct penalty_rule *rule,
                        const struct penalty_rule *inherited, enum side side, const char *path,
                        struct problems *problems) {
    const struct rate_step *steps = rule->steps[side];
    if (rule->charge[side] != CHARGE_STEPS ||
        (inherited != NULL && inherited->charge[side] == CHARGE_STEPS &&
         inherited->steps[side] == steps))
        return;
    for (int i = 0; steps[i].to != INT64_MAX; i++) {
        const char *why = why_no_step(kind, rule, side, steps[i].to);
        struct textbuf part = {0};
        if (why == NULL)
            continue;
        textbuf_printf(&part, ".%s[%d]", side == SIDE_EARLY ? "early" : "late", i + 1);
        event_doubt(problems, path, -1, textbuf_text(&part), why);
        problems->out_of_memory = problems->out_of_memory || part.failed;
        textbuf_clear(&part);
        return;
    }
}

/* What of a rule charges otherwise than it says.
 *   path       where the rule stands
 *   inherited  the rule that it was written over: what is wrong there already is told there */
static void check_charges(enum kind_id kind, const struct penalty_rule *rule,
                          const struct penalty_rule *inherited, const char *path,
                          struct problems *problems) {
    static const char *const sides[] = {".early", ".late"};
    if (part_is_idle(kind, rule) && (inherited == NULL || !part_is_idle(kind, inherited)))
        event_doubt(problems, path, -1, ".part",
                    "changes nothing: the clock is read in the units that are charged, and has no "
                    "parts of them. Read it finer, such as “precision”: “second” with “per”: "
                    "“minute”");
    check_limits(kind, rule, inherited, path, problems);
    if (is_coarse(rule) && (inherited == NULL || !is_coarse(inherited)))
        event_doubt(problems, path, -1, ".precision",
                    "is coarser than “per”: the clock is read in larger units than are charged; "
                    "read it finer, or count in the units that are read");
    for (int i = kind == KIND_SPECIAL_TEST ? SIDE_LATE : SIDE_EARLY; i < SIDE_COUNT; i++) {
        enum side side = (enum side)i;
        check_steps(kind, rule, inherited, side, path, problems);
        if (once_is_capped(rule, side) && (inherited == NULL || !alike_once(rule, inherited, side)))
            event_doubt(problems, path, -1, sides[side],
                        "what it costs once is more than the cap, which holds it: give a “cap” of "
                        "at least as much here");
    }
}

/* Appends the place of an item's own values, or of a line of its `for`. */
static void write_item_path(struct textbuf *b, struct value_place at) {
    textbuf_printf(b, "route[%d]", at.item);
    if (at.line >= 0)
        textbuf_printf(b, ".for[%d]", at.line);
}

/* The rule of an item, and those that checks and pads have of their own. */
static void check_item_charges(const struct item *item, struct value_place at,
                               const struct penalty_rule *inherited, struct problems *problems) {
    struct textbuf path = {0};
    write_item_path(&path, at);
    textbuf_puts(&path, ".penalty");
    check_charges(item->kind, &item->rule, inherited, textbuf_text(&path), problems);
    for (int n = 0; item->point_rules != NULL && n < item->scored_count; n++) {
        if (!item->point_rules[n].own)
            continue;
        textbuf_reset(&path);
        write_item_path(&path, at);
        textbuf_printf(&path, ".%s[%d].penalty",
                       item->kind == KIND_REGULARITY ? "checks" : "targets", n);
        check_charges(item->kind, &item->point_rules[n], &item->rule, textbuf_text(&path),
                      problems);
    }
    problems->out_of_memory = problems->out_of_memory || path.failed;
    textbuf_clear(&path);
}

static bool all_ideals_are_given(const struct regularity *own) {
    for (int i = 0; i < own->timed.count; i++) {
        if (own->checks[i].ideal == TIME_NONE && own->checks[i].at >= 0)
            return false;
    }
    return true;
}

/* An item, or a copy of it with other values.
 *   inherited  the rule that its own was written over */
static void check_item(const struct item *item, struct value_place at,
                       const struct penalty_rule *inherited, struct problems *problems) {
    check_item_charges(item, at, inherited, problems);
    if (item->kind == KIND_REGULARITY && regularity_of(item)->ideals_down &&
        all_ideals_are_given(regularity_of(item)))
        event_doubt_at(problems, at, ".ideals",
                       "takes nothing down: every check has a given ideal, which is used as it is");
}

void check_rules(const struct rules *rules, struct problems *problems) {
    struct textbuf part = {0};
    for (int kind = 0; kind < KIND_COUNT; kind++) {
        textbuf_reset(&part);
        textbuf_printf(&part, "scoring.defaults.%s", kind_name((enum kind_id)kind));
        check_charges((enum kind_id)kind, &rules->scoring.defaults[kind], NULL, textbuf_text(&part),
                      problems);
    }
    problems->out_of_memory = problems->out_of_memory || part.failed;
    textbuf_clear(&part);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        check_item(item, (struct value_place){i, -1}, &rules->scoring.defaults[item->kind],
                   problems);
        for (int line = 0; line < item->variant_count; line++) {
            if (item->variants[line].item != NULL)
                check_item(item->variants[line].item, (struct value_place){i, line}, &item->rule,
                           problems);
        }
    }
}
