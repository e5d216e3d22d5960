/* SPDX-License-Identifier: MIT */
#include "pages/how_charged.h"

#include <stdio.h>

#include "base/decimal.h"
#include "event/shown.h"
#include "system/html.h"

/* Appends a figure as it is written in the page's language. */
static void put_figure(struct page *p, struct textbuf *out, const struct textbuf *text) {
    words_figure(out, p->lang, textbuf_text(text));
    p->m.failed = p->m.failed || text->failed || out->failed;
}

/* A sentence on a figure, behind the one before; `unit` is {1}. */
static void say_figure(struct page *p, const char *key, const struct textbuf *text,
                       const char *unit) {
    struct textbuf *figure = request_text(p->r);
    put_figure(p, figure, text);
    textbuf_putc(&p->m, ' ');
    say_with(p, key, textbuf_text(figure), unit, NULL);
}

void how_charged_amount(struct page *p, const char *key, int64_t amount, const char *unit) {
    struct textbuf *text = request_text(p->r);
    shown_write_price(text, &p->rules->scoring, amount);
    say_figure(p, key, text, unit);
}

void how_charged_time(struct page *p, const char *key, int64_t ms) {
    struct textbuf *text = request_text(p->r);
    duration_write_words(text, ms);
    say_figure(p, key, text, NULL);
}

void how_charged_sentence(struct page *p, const char *key) {
    textbuf_putc(&p->m, ' ');
    say(p, key);
}

const char *how_charged_unit(struct page *p, int64_t unit) {
    char key[32];
    if (unit_name(unit) != NULL) {
        (void)snprintf(key, sizeof key, "unit-%s", unit_name(unit));
        return said(p, key);
    }
    struct textbuf *text = request_text(p->r);
    struct textbuf *figure = request_text(p->r);
    struct textbuf *named = request_text(p->r);
    duration_write_words(text, unit);
    put_figure(p, figure, text);
    words_put(named, said(p, "unit-of"), (const char *const[]){textbuf_text(figure)}, 1);
    p->m.failed = p->m.failed || named->failed;
    return textbuf_text(named);
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
        how_charged_amount(p, per_unit, rule->rate[side], how_charged_unit(p, rule->per));
        break;
    case CHARGE_FAILS:
        textbuf_putc(&p->m, ' ');
        say_count(p, keys->fails, rule->fails[side], NULL);
        break;
    case CHARGE_ONCE:
        how_charged_amount(p, keys->once, rule->rate[side], NULL);
        break;
    case CHARGE_STEPS:
        textbuf_putc(&p->m, ' ');
        say_with(p, per_unit, steps_words(p, rule->steps[side]), how_charged_unit(p, rule->per),
                 NULL);
        break;
    }
}

void how_charged_rates(struct page *p, enum kind_id kind, const struct penalty_rule *rule) {
    bool alike = rule->charge[SIDE_EARLY] == CHARGE_RATE &&
                 rule->charge[SIDE_LATE] == CHARGE_RATE &&
                 rule->rate[SIDE_EARLY] == rule->rate[SIDE_LATE];
    if (kind == KIND_SPECIAL_TEST) {
        say_side(p, rule, SIDE_LATE, &time_keys);
    } else if (alike) {
        how_charged_amount(p, rule->part ? "how-both-begun" : "how-both", rule->rate[SIDE_LATE],
                           how_charged_unit(p, rule->per));
    } else {
        say_side(p, rule, SIDE_EARLY, &early_keys);
        say_side(p, rule, SIDE_LATE, &late_keys);
    }
    if (rule->grace > 0)
        how_charged_time(p, rule->grace_deducted ? "how-grace-deducted" : "how-grace", rule->grace);
}

void how_charged_limits(struct page *p, enum kind_id kind, const struct penalty_rule *rule) {
    bool special = kind == KIND_SPECIAL_TEST;
    if (rule->cap[SIDE_LATE] != CAP_NONE &&
        (special || rule->cap[SIDE_EARLY] == rule->cap[SIDE_LATE]))
        how_charged_amount(p, special ? "how-cap-test" : "how-cap", rule->cap[SIDE_LATE], NULL);
    else if (rule->cap[SIDE_LATE] != CAP_NONE)
        how_charged_amount(p, "how-cap-late", rule->cap[SIDE_LATE], NULL);
    if (!special && rule->cap[SIDE_EARLY] != CAP_NONE &&
        rule->cap[SIDE_EARLY] != rule->cap[SIDE_LATE])
        how_charged_amount(p, "how-cap-early", rule->cap[SIDE_EARLY], NULL);
    if (!special && rule->early_limit != TIME_NONE)
        how_charged_time(p, "how-early-limit", rule->early_limit);
    if (!special && rule->late_limit != TIME_NONE)
        how_charged_time(p, "how-late-limit", rule->late_limit);
    if (rule->missed_maximum) {
        how_charged_sentence(p, "how-missed-maximum");
    } else if (rule->missed_fails > 0) {
        textbuf_putc(&p->m, ' ');
        say_count(p, "how-missed-fails", rule->missed_fails, NULL);
    } else {
        how_charged_amount(p, "how-missed", rule->missed, NULL);
    }
}

void how_charged_own_rules(struct page *p, const struct item *item) {
    for (int n = 0; item->point_rules != NULL && n < item->scored_count; n++) {
        const struct penalty_rule *rule = &item->point_rules[n];
        if (!rule->own)
            continue;
        textbuf_puts(&p->m, " <strong>");
        say_with(p, "how-at", p->rules->scored[item->first_scored + n].id, NULL, NULL);
        textbuf_puts(&p->m, "</strong>");
        how_charged_rates(p, item->kind, rule);
        how_charged_limits(p, item->kind, rule);
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

void how_charged_faults(struct page *p, const struct item *item) {
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
