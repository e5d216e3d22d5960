/* SPDX-License-Identifier: MIT */
#include "scoring/explain.h"

#include "base/decimal.h"
#include "event/car_choice.h"
#include "event/car_route.h"
#include "event/faults.h"
#include "event/kind.h"
#include "event/schedule.h"
#include "scoring/average.h"
#include "scoring/explain_faults.h"
#include "scoring/explain_road.h"
#include "scoring/item_sums.h"

void explain_penalty(struct textbuf *b, int64_t penalty) {
    decimal_write_short(b, penalty);
}

void explain_precision(struct textbuf *b, int64_t unit) {
    const char *name = unit_name(unit);
    textbuf_puts(b, name != NULL ? "to the " : "to ");
    if (name != NULL)
        textbuf_puts(b, name);
    else
        duration_write_words(b, unit);
}

const char *explain_point_id(const struct explain_context *context, int point) {
    return context->event->rules->points[point].id;
}

void explain_reading(struct textbuf *b, int64_t read, int64_t counted) {
    time_write(b, read, 0);
    if (read == counted)
        return;
    textbuf_puts(b, ", counted as ");
    time_write_short(b, counted);
}

void explain_span(struct textbuf *b, int64_t ms) {
    if (ms < 0)
        textbuf_putc(b, '-');
    duration_write_words(b, ms);
}

void explain_duration(struct textbuf *b, int64_t read, int64_t counted) {
    duration_write_words(b, read);
    if (read == counted)
        return;
    textbuf_puts(b, ", counted as ");
    duration_write_words(b, counted);
}

const struct deviation_words explain_clock = {"on time", "early", "late"};
const struct deviation_words explain_laps = {"no difference", "faster", "slower"};

void explain_left(struct textbuf *b, const struct explain_context *context,
                  const struct scored_point *sp, const char *start, const char *left) {
    if (sp->left_item < 0) {
        textbuf_printf(b, "%s ", start);
        time_write_short(b, sp->left.time);
        return;
    }
    const struct item *control = &context->event->rules->items[sp->left_item];
    textbuf_printf(b, "%s %s at ", left, control->id);
    time_write_short(b, sp->left.time);
    if (sp->left.arrival == TIME_NONE) {
        textbuf_printf(b, " (%s)", explain_point_id(context, control->first_point + 1));
    } else if (sp->left.halt > 0) {
        textbuf_puts(b, " (arrival ");
        time_write_short(b, sp->left.arrival);
        textbuf_puts(b, " + halt ");
        duration_write_words(b, sp->left.halt);
        textbuf_putc(b, ')');
    }
}

void explain_units(struct textbuf *b, const struct penalty_rule *rule, int64_t units) {
    const char *name = unit_name(rule->per);
    if (units == 0)
        textbuf_puts(b, "no");
    else
        textbuf_int(b, units);
    textbuf_printf(b, " %s %s%s", rule->part ? "begun" : "whole", name != NULL ? name : "unit",
                   units > 1 ? "s" : "");
    if (name == NULL) {
        textbuf_puts(b, " of ");
        duration_write_words(b, rule->per);
    }
}

static void explain_rate(struct textbuf *b, int64_t rate, int64_t unit) {
    const char *name = unit_name(unit);
    explain_penalty(b, rate);
    if (name != NULL) {
        textbuf_printf(b, " a %s", name);
        return;
    }
    textbuf_puts(b, " per ");
    duration_write_words(b, unit);
}

/* The steps, and the units that each takes. */
static void explain_steps(struct textbuf *b, const struct penalty_rule *rule,
                          const struct rate_step *steps, int64_t units) {
    for (const struct rate_step *step = steps;; step++) {
        if (step > steps)
            textbuf_puts(b, ", then ");
        explain_penalty(b, step->rate);
        if (step->to == INT64_MAX)
            break;
        textbuf_puts(b, " up to ");
        duration_write_words(b, step->to);
    }
    const char *before = ": ";
    int64_t from = 0;
    for (const struct rate_step *step = steps; from / rule->per < units; from = (step++)->to) {
        int64_t taken = penalty_step_units(rule, units, from, step->to);
        textbuf_printf(b, "%s%lld × ", before, (long long)taken);
        explain_penalty(b, step->rate);
        before = " + ";
    }
}

void explain_charge(struct textbuf *b, const struct penalty_rule *rule, enum side side,
                    int64_t units) {
    switch (rule->charge[side]) {
    case CHARGE_ONCE:
        explain_penalty(b, rule->rate[side]);
        textbuf_puts(b, " once");
        break;
    case CHARGE_STEPS:
        explain_steps(b, rule, rule->steps[side], units);
        break;
    default:
        explain_rate(b, rule->rate[side], rule->per);
        break;
    }
}

/* True where the units are told beside the time: they are not the time itself, in its own words. */
static bool units_are_told(const struct penalty_rule *rule, enum side side,
                           const struct price *price) {
    if (rule->charge[side] != CHARGE_RATE)
        return rule->charge[side] == CHARGE_STEPS;
    return rule->per * price->units != price->charged || rule->per < UNIT_SECOND ||
           unit_name(rule->per) == NULL;
}

static void explain_price(struct textbuf *b, const struct penalty_rule *rule,
                          const struct scored_point *sp, const struct deviation_words *words) {
    const struct price *price = &sp->price;
    enum side side = sp->deviation < 0 ? SIDE_EARLY : SIDE_LATE;
    if (sp->deviation == 0) {
        textbuf_puts(b, words->none);
        return;
    }
    duration_write_words(b, sp->deviation);
    textbuf_printf(b, " %s", side == SIDE_EARLY ? words->early : words->late);
    if (price->within_grace) {
        textbuf_puts(b, ", within the grace of ");
        duration_write_words(b, rule->grace);
        textbuf_puts(b, ": nothing");
        return;
    }
    if (price->deducted) {
        textbuf_puts(b, ", less the grace of ");
        duration_write_words(b, rule->grace);
        textbuf_puts(b, " = ");
        duration_write_words(b, price->charged);
    }
    if (rule->charge[side] == CHARGE_FAILS) {
        if (price->fails == 0) {
            textbuf_puts(b, ", ");
            explain_units(b, rule, 0);
        }
        textbuf_printf(b, ": %d fail%s", price->fails, price->fails == 1 ? "" : "s");
        return;
    }
    if (units_are_told(rule, side, price)) {
        textbuf_puts(b, ", ");
        explain_units(b, rule, price->units);
    }
    textbuf_puts(b, " at ");
    explain_charge(b, rule, side, price->units);
    textbuf_puts(b, " = ");
    explain_penalty(b, price->uncapped);
    if (price->capped) {
        textbuf_puts(b, ", held to the cap of ");
        explain_penalty(b, price->penalty);
    }
}

void explain_deviation(struct textbuf *b, const struct penalty_rule *rule,
                       const struct scored_point *sp, const struct deviation_words *words) {
    if (sp->cause != CAUSE_EARLY_LIMIT && sp->cause != CAUSE_LATE_LIMIT) {
        explain_price(b, rule, sp, words);
        return;
    }
    bool early = sp->cause == CAUSE_EARLY_LIMIT;
    duration_write_words(b, sp->deviation);
    textbuf_printf(b, " %s is beyond the limit of ", early ? words->early : words->late);
    duration_write_words(b, early ? rule->early_limit : rule->late_limit);
}

/* What a missed point costs: "120"; "1 fail"; and why, where the rule's `missed` does not say. */
static void explain_missed(struct textbuf *b, const struct explain_context *context,
                           const struct scored_point *sp) {
    const struct penalty_rule *rule = item_rule(context->item, context->scored);
    if (!sp->own_missed) {
        explain_amount(b, rule->missed, rule->missed_fails);
        return;
    }
    explain_amount(b, sp->price.penalty, sp->price.fails);
    if (kind_of(context->item->kind)->explain_missed != NULL)
        kind_of(context->item->kind)->explain_missed(b, context);
}

/* "the average of its other tests of the kind, T1 8 + T3 20 = 28, ÷ 2 = 14" */
static void explain_average(struct textbuf *b, const struct explain_context *context) {
    const struct score_sheet *sheet = context->sheet;
    int test = context->item->place;
    const struct average average = average_of(sheet, test);
    textbuf_puts(b, "the average of its other tests of the kind");
    const char *sep = ", ";
    for (int i = 0; i < sheet->event->rules->item_count; i++) {
        if (!average_takes(sheet, test, i))
            continue;
        const struct item *other = car_item(sheet->event, sheet->car, i);
        textbuf_printf(b, "%s%s ", sep, other->id);
        explain_penalty(b, item_cost(sheet, other));
        sep = " + ";
    }
    if (average.count == 0) {
        textbuf_puts(b, ", of which none can be taken, 0");
        return;
    }
    if (average.count > 1) {
        textbuf_puts(b, " = ");
        explain_penalty(b, average.sum);
    }
    textbuf_printf(b, ", ÷ %d = ", average.count);
    explain_penalty(b, average.mean);
}

static void explain_ruling(struct textbuf *b, const struct explain_context *context,
                           const struct scored_point *sp) {
    const char *reason = sp->ruling->text.field[DECISION_REASON];
    const char *what =
        sp->ruling_whole && context->item->test >= 0 ? "The whole test" : "This point";
    switch (sp->ruling->kind) {
    case DECIDE_CANCEL:
        textbuf_printf(b, "%s is cancelled for everybody: %s. Costs nothing.", what, reason);
        break;
    case DECIDE_NOTIONAL:
        textbuf_printf(b, "%s is given a notional result of ", what);
        if (average_is_at(sp))
            explain_average(b, context);
        else
            explain_penalty(b, sp->ruling->value);
        textbuf_printf(b, ": %s.", reason);
        if (sp->ruling_whole &&
            context->scored != item_first_on_route(context->event->rules, context->item))
            textbuf_puts(b, " It stands once, at the first point.");
        break;
    default:
        textbuf_printf(b, "%s is waived for this car: %s. Costs nothing.", what, reason);
        break;
    }
}

/* The state that a point would have were its test not dropped. */
static enum state state_undropped(const struct scored_point *sp) {
    if (sp->state != STATE_DROPPED)
        return sp->state;
    return sp->outcome == OUTCOME_MISSED ? STATE_MISSED : STATE_SCORED;
}

static void explain_state(struct textbuf *b, const struct explain_context *context,
                          const struct scored_point *sp) {
    switch (state_undropped(sp)) {
    case STATE_AWAITING:
        if (sp->so_far) {
            textbuf_puts(b, "Awaited: so far it costs ");
            explain_amount(b, sp->price.penalty, sp->price.fails);
            textbuf_putc(b, '.');
            break;
        }
        textbuf_puts(b, sp->cause == CAUSE_NO_READING ? "No reading yet; the point is still open"
                                                      : "Awaited");
        if (sp->penalty == 0 && sp->fails == 0)
            textbuf_puts(b, sp->cause == CAUSE_NO_READING ? " and costs nothing so far"
                                                          : ": it costs nothing so far");
        textbuf_putc(b, '.');
        break;
    case STATE_MISSED:
        if (explain_road_is_held(context, sp))
            explain_road_hold(b, context);
        else if (!explain_fault_missed(b, context))
            textbuf_puts(b, sp->cause == CAUSE_NO_READING ? "No reading: missed, "
                                                          : "Counts as missed: ");
        explain_missed(b, context, sp);
        textbuf_putc(b, '.');
        break;
    case STATE_ABSENT:
        textbuf_puts(b, "Out of the event here");
        if (sp->charged) {
            textbuf_puts(b, ": charged as missed, ");
            explain_missed(b, context, sp);
            textbuf_puts(b, ", in the day's absence and not in the test.");
        } else {
            textbuf_puts(b, "; nothing is charged so far.");
        }
        break;
    default:
        break;
    }
}

static void explain_dropped(struct textbuf *b, const struct scored_point *sp) {
    if (b->len > 0 && b->bytes[b->len - 1] != ' ')
        textbuf_putc(b, ' ');
    textbuf_puts(b, "The test is dropped as the car's costliest: ");
    if (sp->penalty == 0) {
        textbuf_puts(b, "it does not count.");
        return;
    }
    textbuf_puts(b, "this ");
    explain_penalty(b, sp->penalty);
    textbuf_puts(b, " does not count.");
}

static void trim(struct textbuf *b) {
    while (b->len > 0 && b->bytes[b->len - 1] == ' ')
        b->bytes[--b->len] = '\0';
}

struct explain_context explain_context_of(const struct score_sheet *sheet, int scored) {
    int place = sheet->event->rules->scored[scored].item;
    return (struct explain_context){.event = sheet->event,
                                    .view = sheet->view,
                                    .sheet = sheet,
                                    .item = car_item(sheet->event, sheet->car, place),
                                    .scored = scored};
}

/* Whose values these are, where they are not the item's own. */
static void explain_variant(struct textbuf *b, const struct explain_context *context) {
    const struct variant *variant =
        car_variant(context->event, context->sheet->car, context->item->place);
    if (variant == NULL)
        return;
    textbuf_puts(b, "Values for ");
    car_choice_write_of(context->event->rules, &variant->cars,
                        &context->event->entries->list[context->sheet->car], b);
    textbuf_puts(b, ". ");
}

void explain_point(struct textbuf *b, const struct explain_context *context) {
    const struct scored_point *sp = &context->sheet->scored[context->scored];
    /* What was measured is written even where a ruling sets it aside: the crew sees both. */
    const struct kind *kind = kind_of(context->item->kind);
    explain_variant(b, context);
    if (sp->state != STATE_ABSENT && (sp->ruling == NULL || sp->reading != NULL))
        kind->explain(b, context, sp);
    if (sp->state != STATE_ABSENT && schedule_has_finish(context->item) &&
        context->event->rules->scored[context->scored].point == schedule_point(context->item))
        explain_road_end(b, context);
    explain_faults_beside(b, context);
    if (sp->ruling != NULL) {
        explain_ruling(b, context, sp);
    } else {
        explain_state(b, context, sp);
        explain_faults_at(b, context);
    }
    if (sp->state == STATE_DROPPED)
        explain_dropped(b, sp);
    trim(b);
}
