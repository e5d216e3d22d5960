/* SPDX-License-Identifier: MIT */
#include "pages/how_scored.h"

#include <string.h>

#include "base/decimal.h"
#include "event/kind.h"
#include "event/schedule.h"
#include "pages/how_charged.h"
#include "scoring/kinds/checks_and_pads.h"
#include "scoring/kinds/consistency.h"
#include "scoring/kinds/regularity.h"
#include "scoring/kinds/special_test.h"
#include "system/html.h"

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
        how_charged_time(p, "how-bogey", test->bogey);
    if (test->maximum != TIME_NONE)
        how_charged_time(p, "how-maximum", test->maximum);
    if (test->maximum_by_best)
        how_charged_time(p, maxima[test->maximum_scope], test->plus);
    if (item->seeks_best && test->ground != BEST_TIME && !by_cost)
        how_charged_sentence(p, test->ground == BEST_RESULT ? "how-best-result"
                                                            : "how-best-faultless");
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
            say_with(p, "how-ideals-down", how_charged_unit(p, item->rule.precision), NULL, NULL);
        }
        break;
    case KIND_SET_TIME:
        say_count(p,
                  checks_and_pads_of(item)->from_previous ? "how-set-time" : "how-set-time-start",
                  checks_and_pads_of(item)->count, NULL);
        if (checks_and_pads_of(item)->loses_next)
            how_charged_sentence(p, "how-lost");
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

/* What the road asks of a time control. */
static void say_road(struct page *p, const struct item *item) {
    const struct schedule *road = &item->road;
    if (item->kind != KIND_TIME_CONTROL)
        return;
    how_charged_time(p, "how-allowed", road->target);
    if (road->early_from_due && p->rules->scoring.scheduled)
        how_charged_sentence(p, "how-early-from-due");
    if (road->shortest != TIME_NONE)
        how_charged_time(p, "how-shortest", road->shortest);
}

/* The control on the road that its end is. */
static void say_finish(struct page *p, const struct item *item) {
    if (schedule_has_finish(item))
        how_charged_time(p, "how-finish", item->road.target);
}

/* What being late on the road has to do with it. */
static void say_lateness(struct page *p, const struct item *item) {
    const struct scoring *scoring = &p->rules->scoring;
    if (item->test >= 0 && scoring->max_lateness_holds && scoring->max_lateness != TIME_NONE)
        how_charged_time(p, "how-holds", scoring->max_lateness);
}

static void say_item_rates(struct page *p, const struct item *item) {
    if (item->kind != KIND_PASSAGE_CONTROL)
        how_charged_rates(p, item->kind, &item->rule);
}

static void say_item_limits(struct page *p, const struct item *item) {
    how_charged_limits(p, item->kind, &item->rule);
    if (item->test_cap != CAP_NONE)
        how_charged_amount(p, "how-test-cap", item->test_cap, NULL);
}

/* The sentences on an item, in parts. */
enum { PART_COUNT = 11 };
static void (*const parts[PART_COUNT])(struct page *p, const struct item *item) = {
    say_kind,           say_road,       say_points_off,  say_speeds,
    say_targets,        say_item_rates, say_item_limits, how_charged_own_rules,
    how_charged_faults, say_finish,     say_lateness};

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

/* A paragraph on an item, and one on each line of its `for`. */
static void say_item(struct page *p, const struct item *item) {
    textbuf_puts(&p->m, "<p>");
    const struct said_parts own = say_values(p, item);
    if (item->ties_only)
        how_charged_sentence(p, "how-ties-only");
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

void how_scored_write(struct page *p, const struct item *item) {
    textbuf_puts(&p->m, "<h2>");
    say(p, "how-scored");
    textbuf_puts(&p->m, "</h2>\n");
    say_item(p, item);
}

/* True for a control that is not scored by rates, a cap and a price for missing it alone. */
static bool control_is_special(const struct item *item) {
    const struct schedule *road = &item->road;
    bool timed = item->kind == KIND_TIME_CONTROL &&
                 (item->rule.charged_otherwise || item->rule.early_limit != TIME_NONE ||
                  road->early_from_due || road->shortest != TIME_NONE);
    return item->test < 0 && (timed || item->fault_count > 0 || item->variant_count > 0);
}

void how_controls_write(struct page *p) {
    bool any = false;
    for (int i = 0; i < p->rules->item_count; i++) {
        const struct item *item = &p->rules->items[i];
        if (p->view->hidden[i] || !control_is_special(item))
            continue;
        if (!any) {
            textbuf_puts(&p->m, "<h2 id=\"controls\">");
            say(p, "how-controls");
            textbuf_puts(&p->m, "</h2>\n");
        }
        any = true;
        textbuf_puts(&p->m, "<h3>");
        put_item(p, item, true);
        textbuf_puts(&p->m, "</h3>\n");
        say_item(p, item);
    }
}
