/* SPDX-License-Identifier: MIT */
#include "scoring/explain_faults.h"

#include <string.h>

#include "base/decimal.h"
#include "event/car_route.h"
#include "event/kind.h"
#include "event/penalty.h"
#include "scoring/told_faults.h"

static void explain_fails(struct textbuf *b, int fails) {
    textbuf_printf(b, "%d fail%s", fails, fails == 1 ? "" : "s");
}

void explain_amount(struct textbuf *b, int64_t penalty, int fails) {
    if (penalty != 0 || fails == 0)
        explain_penalty(b, penalty);
    if (penalty != 0 && fails > 0)
        textbuf_puts(b, " and ");
    if (fails > 0)
        explain_fails(b, fails);
}

/* Faults of one reading or decision.
 *   behind  what stands behind each: who told it, or NULL */
static void explain_list(struct textbuf *b, const struct item *item, const struct fault_count *told,
                         int count, const char *before, const char *behind) {
    bool all = kind_of(item->kind)->faults == FAULTS_AT_POINT;
    for (int i = 0; i < count; i++) {
        const struct fault_rule *fault = &item->faults[told[i].fault];
        bool has_cost = fault->worth == FAULT_PENALTY || fault->worth == FAULT_FAILS;
        if (told[i].count == 0 || !has_cost || (!all && fault->penalty == 0 && fault->fails == 0))
            continue;
        textbuf_printf(b, "%s%d × %s at ", before, told[i].count, fault->name);
        explain_amount(b, fault->penalty, fault->fails);
        if (behind != NULL)
            textbuf_printf(b, " (decided: %s)", behind);
    }
}

/* The decision at `i` of the sheet's car, where it tells faults at a point; NULL where it does not.
 */
static const struct decision *decision_at(const struct score_sheet *sheet, int i, int point) {
    const struct decision *d = sheet->event->rulings->cars[sheet->car].list[i];
    return d->kind == DECIDE_FAULTS && d->place == point ? d : NULL;
}

struct fault_sum explain_told_faults(struct textbuf *b, const struct explain_context *context,
                                     int point, const char *before) {
    const struct score_sheet *sheet = context->sheet;
    const struct item *item = context->item;
    const struct reading *reading = sheet->counted[point];
    const struct fault_sum sum = told_faults(sheet, sheet->car, item, point, reading);
    if (!sum.any)
        return sum;
    if (reading != NULL)
        explain_list(b, item, reading->faults, reading->fault_count, before, NULL);
    if (score_sheet_absent(sheet, sheet->car, point))
        return sum;
    for (int i = 0; i < sheet->event->rulings->cars[sheet->car].count; i++) {
        const struct decision *d = decision_at(sheet, i, point);
        if (d != NULL)
            explain_list(b, item, d->faults, d->fault_count, before,
                         d->text.field[DECISION_REASON]);
    }
    return sum;
}

/* The faults at a point as part of the item's sum.
 *   where  the point, NULL where the sentence is of the point itself */
static void explain_beside(struct textbuf *b, const struct explain_context *context, int point,
                           const char *where) {
    const struct item *item = context->item;
    struct textbuf list = {0};
    if (score_sheet_point_ruled(context->sheet, point))
        return;
    const struct fault_sum sum = explain_told_faults(&list, context, point, " + ");
    const char *at = where == NULL ? "" : " at ";
    if (list.len > 0) {
        textbuf_printf(b, "Faults%s%s: %s = ", at, where == NULL ? "" : where,
                       textbuf_text(&list) + strlen(" + "));
        explain_amount(b, sum.penalty, sum.fails);
        textbuf_puts(b, ", added to the test. ");
    }
    if (sum.missed >= 0 && where != NULL) {
        textbuf_printf(b, "Fault%s%s: %s, as a missed point: ", at, where,
                       item->faults[sum.missed].name);
        explain_amount(b, item->rule.missed, item->rule.missed_fails);
        textbuf_puts(b, ", added to the test. ");
    }
    b->failed = b->failed || list.failed;
    textbuf_clear(&list);
}

void explain_faults_beside(struct textbuf *b, const struct explain_context *context) {
    const struct rules *rules = context->event->rules;
    const struct item *item = context->item;
    int own = rules->scored[context->scored].point;
    if (item->fault_count == 0)
        return;
    if (told_faults_beside(rules, item, own))
        explain_beside(b, context, own, NULL);
    if (context->scored != item_first_on_route(rules, item))
        return;
    for (int p = item->first_point; p < item->first_point + item->point_count; p++) {
        if (rules->points[p].scored < 0 && told_faults_beside(rules, item, p))
            explain_beside(b, context, p, rules->points[p].id);
    }
}

void explain_faults_at(struct textbuf *b, const struct explain_context *context) {
    const struct rules *rules = context->event->rules;
    const struct item *item = context->item;
    const struct scored_point *sp = &context->sheet->scored[context->scored];
    int point = rules->scored[context->scored].point;
    struct textbuf list = {0};
    if (item->fault_count == 0 || kind_of(item->kind)->faults != FAULTS_AT_POINT)
        return;
    struct fault_sum sum = explain_told_faults(&list, context, point, " + ");
    if (rules->points[point].role == POINT_ARRIVAL &&
        !score_sheet_point_ruled(context->sheet, point + 1)) {
        const struct fault_sum out =
            explain_told_faults(&list, context, point + 1, " + at the way out ");
        faults_join(&sum, &out);
    }
    if (list.len > 0) {
        textbuf_printf(b, "%sFaults: %s = ", b->len > 0 && b->bytes[b->len - 1] != ' ' ? " " : "",
                       textbuf_text(&list) + strlen(" + "));
        explain_amount(b, sum.penalty, sum.fails);
        textbuf_putc(b, '.');
        if (sum.penalty != sp->penalty || sum.fails != sp->fails) {
            textbuf_puts(b, " Together ");
            explain_amount(b, sp->penalty, sp->fails);
            textbuf_putc(b, '.');
        }
    }
    b->failed = b->failed || list.failed;
    textbuf_clear(&list);
}

bool explain_fault_missed(struct textbuf *b, const struct explain_context *context) {
    int point = context->event->rules->scored[context->scored].point;
    const struct fault_sum sum = told_faults_at(context->sheet, context->item, point);
    if (sum.missed < 0)
        return false;
    textbuf_printf(b, "Fault %s: counts as missed, ", context->item->faults[sum.missed].name);
    return true;
}
