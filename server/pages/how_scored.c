/* SPDX-License-Identifier: MIT */
#include "pages/how_scored.h"

#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "event/kind.h"
#include "event/schedule.h"
#include "event/shown.h"
#include "scoring/kinds/checks_and_pads.h"
#include "scoring/kinds/consistency.h"
#include "scoring/kinds/regularity.h"
#include "scoring/kinds/special_test.h"
#include "system/html.h"

/* A sentence on a figure, behind the one before; `unit` is {1}. */
static void say_figure(struct page *p, const char *key, const struct textbuf *text,
                       const char *unit) {
    struct textbuf *figure = request_text(p->r);
    words_figure(figure, p->lang, textbuf_text(text));
    textbuf_putc(&p->m, ' ');
    say_with(p, key, textbuf_text(figure), unit, NULL);
    p->m.failed = p->m.failed || text->failed || figure->failed;
}

/* A rate, cap or cost. */
static void say_amount(struct page *p, const char *key, int64_t amount, const char *unit) {
    struct textbuf *text = request_text(p->r);
    shown_write_price(text, &p->rules->scoring, amount);
    say_figure(p, key, text, unit);
}

static void say_time(struct page *p, const char *key, int64_t ms) {
    struct textbuf *text = request_text(p->r);
    duration_write_words(text, ms);
    say_figure(p, key, text, NULL);
}

/* A sentence behind others. */
static void say_sentence(struct page *p, const char *key) {
    textbuf_putc(&p->m, ' ');
    say(p, key);
}

static void say_special_test(struct page *p, const struct item *item) {
    static const char *const methods[] = {"how-elapsed", "how-over-bogey", "how-behind-best"};
    static const char *const counted[] = {"how-attempts-best", "how-attempts-last",
                                          "how-attempts-sum"};
    static const char *const maxima[] = {"how-maximum-overall", "how-maximum-class",
                                         "how-maximum-category"};
    const struct special_test *test = special_test_of(item);
    bool behind = test->method == METHOD_BEHIND_BEST;
    bool in_class = behind && test->scope == SCOPE_CLASS;
    bool by_cost = behind && test->ground == BEST_RESULT;
    if (by_cost)
        say(p, in_class ? "how-behind-class-result" : "how-behind-best-result");
    else
        say(p, in_class ? "how-behind-class" : methods[test->method]);
    if (item->attempts > 1) {
        textbuf_putc(&p->m, ' ');
        say_with(p, counted[test->counts], page_text(p, "%d", item->attempts), NULL, NULL);
    }
    if (test->bogey != TIME_NONE)
        say_time(p, "how-bogey", test->bogey);
    if (test->maximum != TIME_NONE)
        say_time(p, "how-maximum", test->maximum);
    if (test->maximum_by_best)
        say_time(p, maxima[test->maximum_scope], test->plus);
    if (item->seeks_best && test->ground != BEST_TIME && !by_cost)
        say_sentence(p, test->ground == BEST_RESULT ? "how-best-result" : "how-best-faultless");
}

/* The speeds of a regularity: "48 km/h, 42.5 km/h from 3.2 km". */
static void say_speeds(struct page *p, const struct item *item) {
    const struct regularity *test = regularity_of(item);
    struct textbuf *list = request_text(p->r);
    struct textbuf *text = request_text(p->r);
    const char *unit = rules_unit(p->rules);
    if (item->kind != KIND_REGULARITY || test->speed_count == 0)
        return;
    for (int i = 0; i < test->speed_count; i++) {
        textbuf_reset(text);
        decimal_write_short(text, test->speeds[i].speed);
        textbuf_puts(list, i > 0 ? ", " : "");
        words_figure(list, p->lang, textbuf_text(text));
        textbuf_puts(list, p->rules->miles ? " mph" : " km/h");
        if (test->speeds[i].from == 0)
            continue;
        textbuf_reset(text);
        decimal_write_short(text, test->speeds[i].from);
        textbuf_printf(list, " %s ", said(p, "how-from"));
        words_figure(list, p->lang, textbuf_text(text));
        textbuf_printf(list, " %s", unit);
    }
    textbuf_putc(&p->m, ' ');
    say_with(p, "how-speeds", textbuf_text(list), NULL, NULL);
    p->m.failed = p->m.failed || list->failed || text->failed;
}

/* The targets of a set-time test that not all cars drive by the same: "11.7 s, 9 s". */
static void say_targets(struct page *p, const struct item *item) {
    if (item->kind != KIND_SET_TIME || (item->variant_count == 0 && item->base == NULL))
        return;
    const struct checks_and_pads *pads = checks_and_pads_of(item);
    struct textbuf *list = request_text(p->r);
    struct textbuf *text = request_text(p->r);
    for (int n = 1; n <= pads->count; n++) {
        if (item->off_points != NULL && item->off_points[n])
            continue;
        textbuf_reset(text);
        duration_write_words(text,
                             pads->ideals[n] - (pads->from_previous ? pads->ideals[n - 1] : 0));
        textbuf_puts(list, list->len > 0 ? ", " : "");
        words_figure(list, p->lang, textbuf_text(text));
    }
    textbuf_putc(&p->m, ' ');
    say_with(p, "how-targets", textbuf_text(list), NULL, NULL);
    p->m.failed = p->m.failed || list->failed || text->failed;
}

/* The checks and pads that are not on the route of the cars for whom a copy is. */
static void say_points_off(struct page *p, const struct item *item) {
    struct textbuf *list = request_text(p->r);
    for (int n = 0; item->off_points != NULL && n < item->scored_count; n++) {
        if (!item->off_points[n + 1])
            continue;
        textbuf_puts(list, list->len > 0 ? ", " : "");
        html_text(list, p->rules->scored[item->first_scored + n].id);
    }
    if (list->len > 0) {
        textbuf_putc(&p->m, ' ');
        say_with(p, "how-points-off", textbuf_text(list), NULL, NULL);
    }
    p->m.failed = p->m.failed || list->failed;
}

/* The word for a unit, or its duration. */
static const char *unit_word(struct page *p, int64_t unit) {
    char key[32];
    if (unit_name(unit) != NULL) {
        (void)snprintf(key, sizeof key, "unit-%s", unit_name(unit));
        return said(p, key);
    }
    struct textbuf *text = request_text(p->r);
    struct textbuf *figure = request_text(p->r);
    duration_write_words(text, unit);
    words_figure(figure, p->lang, textbuf_text(text));
    p->m.failed = p->m.failed || text->failed || figure->failed;
    return textbuf_text(figure);
}

/* The sentence on the kind of test; controls are none. */
static void say_kind(struct page *p, const struct item *item) {
    static const char *const references[] = {"how-first", "how-mean", "how-nominated"};
    switch (item->kind) {
    case KIND_REGULARITY:
        say_count(p,
                  checks_and_pads_of(item)->from_previous ? "how-regularity-previous"
                                                          : "how-regularity",
                  checks_and_pads_of(item)->count, NULL);
        if (regularity_of(item)->ideals_down) {
            textbuf_putc(&p->m, ' ');
            say_with(p, "how-ideals-down", unit_word(p, item->rule.precision), NULL, NULL);
        }
        break;
    case KIND_SET_TIME:
        say_count(p,
                  checks_and_pads_of(item)->from_previous ? "how-set-time" : "how-set-time-start",
                  checks_and_pads_of(item)->count, NULL);
        if (checks_and_pads_of(item)->loses_next)
            say_sentence(p, "how-lost");
        break;
    case KIND_SPECIAL_TEST:
        say_special_test(p, item);
        break;
    case KIND_CONSISTENCY:
        say_count(p, references[consistency_of(item)->reference], consistency_of(item)->laps, NULL);
        break;
    case KIND_TIME_CONTROL:
    case KIND_PASSAGE_CONTROL:
    case KIND_COUNT:
        break;
    }
}

/* Appends a figure as it is written in the page's language. */
static void put_figure(struct page *p, struct textbuf *out, const struct textbuf *text) {
    words_figure(out, p->lang, textbuf_text(text));
    p->m.failed = p->m.failed || text->failed || out->failed;
}

/* "2 up to 1 min, then 5" */
static const char *steps_words(struct page *p, const struct rate_step *steps) {
    struct textbuf *list = request_text(p->r);
    for (const struct rate_step *step = steps;; step++) {
        struct textbuf *text = request_text(p->r);
        struct textbuf *rate = request_text(p->r);
        struct textbuf *to = request_text(p->r);
        bool last = step->to == INT64_MAX;
        shown_write_price(text, &p->rules->scoring, step->rate);
        put_figure(p, rate, text);
        textbuf_reset(text);
        if (!last)
            duration_write_words(text, step->to);
        put_figure(p, to, text);
        textbuf_puts(list, step > steps ? ", " : "");
        if (last && step == steps)
            textbuf_puts(list, textbuf_text(rate));
        else
            words_put(list, said(p, last ? "how-step-last" : "how-step"),
                      (const char *const[]){textbuf_text(rate), textbuf_text(to)}, 2);
        if (last)
            break;
    }
    p->m.failed = p->m.failed || list->failed;
    return textbuf_text(list);
}

/* The sentences on a deviation to one side, or on either. */
struct side_keys {
    const char *whole; /* so much for each whole unit, or the steps of it */
    const char *begun; /* the same for each unit begun */
    const char *once;
    const char *fails;
};

static const struct side_keys early_keys = {"how-early", "how-early-begun", "how-early-once",
                                            "how-early-fails"};
static const struct side_keys late_keys = {"how-late", "how-late-begun", "how-late-once",
                                           "how-late-fails"};
/* Of a special test, which has no early side. */
static const struct side_keys time_keys = {"how-rate", "how-rate-begun", "how-rate-once",
                                           "how-rate-fails"};

/* What one side of a deviation costs. */
static void say_side(struct page *p, const struct penalty_rule *rule, enum side side,
                     const struct side_keys *keys) {
    const char *per_unit = rule->part ? keys->begun : keys->whole;
    switch (rule->charge[side]) {
    case CHARGE_RATE:
        say_amount(p, per_unit, rule->rate[side], unit_word(p, rule->per));
        break;
    case CHARGE_FAILS:
        textbuf_putc(&p->m, ' ');
        say_count(p, keys->fails, rule->fails[side], NULL);
        break;
    case CHARGE_ONCE:
        say_amount(p, keys->once, rule->rate[side], NULL);
        break;
    case CHARGE_STEPS:
        textbuf_putc(&p->m, ' ');
        say_with(p, per_unit, steps_words(p, rule->steps[side]), unit_word(p, rule->per), NULL);
        break;
    }
}

static void say_rates(struct page *p, enum kind_id kind, const struct penalty_rule *rule) {
    bool alike = rule->charge[SIDE_EARLY] == CHARGE_RATE &&
                 rule->charge[SIDE_LATE] == CHARGE_RATE &&
                 rule->rate[SIDE_EARLY] == rule->rate[SIDE_LATE];
    if (kind == KIND_SPECIAL_TEST) {
        say_side(p, rule, SIDE_LATE, &time_keys);
    } else if (alike) {
        say_amount(p, rule->part ? "how-both-begun" : "how-both", rule->rate[SIDE_LATE],
                   unit_word(p, rule->per));
    } else {
        say_side(p, rule, SIDE_EARLY, &early_keys);
        say_side(p, rule, SIDE_LATE, &late_keys);
    }
    if (rule->grace > 0)
        say_time(p, rule->grace_deducted ? "how-grace-deducted" : "how-grace", rule->grace);
}

static void say_limits(struct page *p, enum kind_id kind, const struct penalty_rule *rule) {
    bool special = kind == KIND_SPECIAL_TEST;
    if (rule->cap[SIDE_LATE] != CAP_NONE &&
        (special || rule->cap[SIDE_EARLY] == rule->cap[SIDE_LATE]))
        say_amount(p, special ? "how-cap-test" : "how-cap", rule->cap[SIDE_LATE], NULL);
    else if (rule->cap[SIDE_LATE] != CAP_NONE)
        say_amount(p, "how-cap-late", rule->cap[SIDE_LATE], NULL);
    if (!special && rule->cap[SIDE_EARLY] != CAP_NONE &&
        rule->cap[SIDE_EARLY] != rule->cap[SIDE_LATE])
        say_amount(p, "how-cap-early", rule->cap[SIDE_EARLY], NULL);
    if (!special && rule->early_limit != TIME_NONE)
        say_time(p, "how-early-limit", rule->early_limit);
    if (!special && rule->late_limit != TIME_NONE)
        say_time(p, "how-late-limit", rule->late_limit);
    if (rule->missed_maximum) {
        say_sentence(p, "how-missed-maximum");
    } else if (rule->missed_fails > 0) {
        textbuf_putc(&p->m, ' ');
        say_count(p, "how-missed-fails", rule->missed_fails, NULL);
    } else {
        say_amount(p, "how-missed", rule->missed, NULL);
    }
}

/* The checks and pads whose rule is not the item's. */
static void say_own_rules(struct page *p, const struct item *item) {
    for (int n = 0; item->point_rules != NULL && n < item->scored_count; n++) {
        const struct penalty_rule *rule = &item->point_rules[n];
        if (!rule->own)
            continue;
        textbuf_puts(&p->m, " <strong>");
        say_with(p, "how-at", p->rules->scored[item->first_scored + n].id, NULL, NULL);
        textbuf_puts(&p->m, "</strong>");
        say_rates(p, item->kind, rule);
        say_limits(p, item->kind, rule);
    }
}

/* What one fault is worth. */
static void put_worth(struct page *p, struct textbuf *list, const struct fault_rule *fault) {
    struct textbuf *amount = request_text(p->r);
    switch (fault->worth) {
    case FAULT_MAXIMUM:
        html_text(list, said(p, "the-maximum"));
        break;
    case FAULT_MISSED:
        html_text(list, said(p, "fault-missed"));
        break;
    case FAULT_FAILS: {
        const char *const fails[] = {page_text(p, "%d", fault->fails)};
        words_put(list, word_for(p->lang, "fails", fault->fails), fails, 1);
        break;
    }
    default:
        shown_write_price(amount, &p->rules->scoring, fault->penalty);
        words_figure(list, p->lang, textbuf_text(amount));
        break;
    }
    p->m.failed = p->m.failed || amount->failed;
}

static void say_faults(struct page *p, const struct item *item) {
    struct textbuf *list = request_text(p->r);
    for (int i = 0; i < item->fault_count; i++) {
        if (item->faults[i].worth == FAULT_NOT_NAMED)
            continue;
        textbuf_puts(list, list->len > 0 ? ", " : "");
        html_text(list, item->faults[i].name);
        textbuf_putc(list, ' ');
        put_worth(p, list, &item->faults[i]);
    }
    if (list->len > 0) {
        textbuf_putc(&p->m, ' ');
        say_with(p, "how-faults", textbuf_text(list), NULL, NULL);
    }
    p->m.failed = p->m.failed || list->failed;
}

/* The control on the road that its end is. */
static void say_finish(struct page *p, const struct item *item) {
    if (schedule_has_finish(item))
        say_time(p, "how-finish", item->road.target);
}

/* What being late on the road has to do with it. */
static void say_lateness(struct page *p, const struct item *item) {
    const struct scoring *scoring = &p->rules->scoring;
    (void)item;
    if (scoring->max_lateness_holds && scoring->max_lateness != TIME_NONE)
        say_time(p, "how-holds", scoring->max_lateness);
}

static void say_item_rates(struct page *p, const struct item *item) {
    say_rates(p, item->kind, &item->rule);
}

static void say_item_limits(struct page *p, const struct item *item) {
    say_limits(p, item->kind, &item->rule);
    if (item->test_cap != CAP_NONE)
        say_amount(p, "how-test-cap", item->test_cap, NULL);
}

/* The sentences on an item, in parts. */
enum { PART_COUNT = 10 };
static void (*const parts[PART_COUNT])(struct page *p, const struct item *item) = {
    say_kind,        say_points_off, say_speeds, say_targets, say_item_rates,
    say_item_limits, say_own_rules,  say_faults, say_finish,  say_lateness};

/* Where the parts on an item begin in the page's markup, and behind them where the last one ends.
 */
struct said_parts {
    size_t from[PART_COUNT + 1];
};

static struct said_parts say_values(struct page *p, const struct item *item) {
    struct said_parts said_parts;
    for (int i = 0; i < PART_COUNT; i++) {
        said_parts.from[i] = p->m.len;
        parts[i](p, item);
    }
    said_parts.from[PART_COUNT] = p->m.len;
    return said_parts;
}

/* Of a copy of the item with other values, the parts that differ from those on the item; all of
 * them where none does, or where one falls away, which silence would not tell. */
static void say_differences(struct page *p, const struct item *copy, const struct said_parts *own) {
    size_t begin = p->m.len;
    bool gone = false;
    for (int i = 0; i < PART_COUNT && !p->m.failed; i++) {
        size_t from = p->m.len;
        size_t len = own->from[i + 1] - own->from[i];
        parts[i](p, copy);
        gone = gone || (len > 0 && p->m.len == from && copy->off_points == NULL);
        if (!p->m.failed && p->m.len - from == len &&
            memcmp(p->m.bytes + from, p->m.bytes + own->from[i], len) == 0)
            p->m.len = from;
    }
    if (gone && !p->m.failed)
        p->m.len = begin;
    if (p->m.len == begin)
        (void)say_values(p, copy);
}

/* Whom a line of `for` is about, by their names. */
static void say_cars(struct page *p, const struct car_choice *cars) {
    struct textbuf *list = request_text(p->r);
    struct textbuf *id = request_text(p->r);
    for (int i = 0; i < cars->of_count; i++) {
        textbuf_puts(list, i > 0 ? ", " : "");
        switch (cars->key) {
        case CARS_BY_GROUP:
            html_text(list, p->rules->groups[cars->of[i]].name);
            break;
        case CARS_BY_CATEGORY:
            html_text(list, p->rules->categories[cars->of[i]].name);
            break;
        case CARS_BY_PERIOD:
            html_text(list, p->rules->periods[cars->of[i]].name);
            break;
        case CARS_BY_CLASS:
            textbuf_reset(id);
            rules_class_id(p->rules, cars->of[i], id);
            html_text(list, textbuf_text(id));
            break;
        }
    }
    textbuf_puts(&p->m, "<strong>");
    say_with(p, "how-for", textbuf_text(list), NULL, NULL);
    textbuf_puts(&p->m, "</strong> ");
    p->m.failed = p->m.failed || list->failed || id->failed;
}

void how_scored_write(struct page *p, const struct item *item) {
    textbuf_puts(&p->m, "<h2>");
    say(p, "how-scored");
    textbuf_puts(&p->m, "</h2>\n<p>");
    const struct said_parts own = say_values(p, item);
    if (item->ties_only)
        say_sentence(p, "how-ties-only");
    textbuf_puts(&p->m, "</p>\n");
    for (int i = 0; i < item->variant_count; i++) {
        textbuf_puts(&p->m, "<p>");
        say_cars(p, &item->variants[i].cars);
        if (item->variants[i].off)
            say(p, "how-off");
        else
            say_differences(p, item->variants[i].item, &own);
        textbuf_puts(&p->m, "</p>\n");
    }
}
