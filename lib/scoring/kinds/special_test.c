/* SPDX-License-Identifier: MIT */
/* Special tests: an elapsed time between bogey and maximum, and faults; in one attempt or the best,
 * the last or the sum of several. */
#include "scoring/kinds/special_test.h"

#include "base/decimal.h"
#include "base/err.h"
#include "event/kind.h"
#include "event/penalty.h"
#include "event/route.h"
#include "event/schedule.h"
#include "format/json_read.h"
#include "scoring/explain_faults.h"
#include "scoring/kinds/attempt.h"
#include "scoring/kinds/attempt_explain.h"
#include "scoring/score_sheet.h"

static const char *const keys[] = {"bogey",  "maximum",  "method", "scope",  "best", "attempts",
                                   "counts", "test_cap", "finish", "target", NULL};

/* A duration, or the best of some cars and so much. */
static void read_maximum(const struct json_reader *reader, const json_t *object,
                         const struct json_place *place, struct special_test *own) {
    static const char *const maximum_keys[] = {"best", "plus", NULL};
    static const char *const scopes[] = {"overall", "class", "category", NULL};
    const json_t *value = json_object_get(object, "maximum");
    struct json_place here = {.up = place, .key = "maximum"};
    int choice;
    own->maximum = TIME_NONE;
    if (!json_is_object(value)) {
        (void)json_get_duration(reader, object, place, "maximum", false, &own->maximum);
        return;
    }
    own->maximum_by_best = true;
    (void)json_known_keys(reader, value, &here, maximum_keys, NULL);
    if (json_get_choice(reader, value, &here, "best", true, scopes, &choice))
        own->maximum_scope = (enum best_scope)choice;
    (void)json_get_duration(reader, value, &here, "plus", true, &own->plus);
}

static void read_attempts(const struct json_reader *reader, const json_t *object,
                          const struct json_place *place, struct item *item,
                          struct special_test *own) {
    /* "ties" is of every kind of test; with attempts it is the best that counts for them. */
    static const char *const counts[] = {"best", "last", "sum", "ties", NULL};
    int64_t attempts = 1;
    int choice;
    (void)json_get_whole(reader, object, place, "attempts", false, 2, ATTEMPTS_MAX, &attempts);
    item->attempts = (int)attempts;
    if (json_get_choice(reader, object, place, "counts", false, counts, &choice) &&
        choice <= COUNTS_SUM)
        own->counts = (enum attempts_counted)choice;
}

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    struct special_test *own = part;
    static const char *const methods[] = {"elapsed", "over-bogey", "behind-best", NULL};
    static const char *const scopes[] = {"overall", "class", NULL};
    static const char *const grounds[] = {"time", "faultless", "result", NULL};
    int choice;
    own->bogey = TIME_NONE;
    (void)json_get_duration(reader, object, place, "bogey", false, &own->bogey);
    read_maximum(reader, object, place, own);
    if (own->bogey != TIME_NONE && own->maximum != TIME_NONE && own->maximum < own->bogey)
        json_wrong(reader, place, "maximum", "is below the bogey");
    if (json_get_choice(reader, object, place, "method", false, methods, &choice))
        own->method = (enum special_method)choice;
    if (own->method == METHOD_OVER_BOGEY && json_object_get(object, "bogey") == NULL)
        json_wrong(reader, place, "bogey", "is missing: the method counts what is over it");
    if (json_get_choice(reader, object, place, "scope", false, scopes, &choice))
        own->scope = (enum best_scope)choice;
    if (json_get_choice(reader, object, place, "best", false, grounds, &choice))
        own->ground = (enum best_ground)choice;
    if (item->rule.missed_maximum && json_object_get(object, "maximum") == NULL)
        json_wrong(reader, place, "maximum", "is missing: what is missed costs as much as it");
    read_attempts(reader, object, place, item, own);
    schedule_read_finish(reader, object, place, &item->road);
    item->seeks_best = own->method == METHOD_BEHIND_BEST || own->maximum_by_best;
}

static int lay_out(struct rules *rules, int item) {
    static const char *const suffixes[ATTEMPTS_MAX][2] = {{"start", "finish"},
                                                          {"start-2", "finish-2"},
                                                          {"start-3", "finish-3"},
                                                          {"start-4", "finish-4"},
                                                          {"start-5", "finish-5"}};
    int attempts = rules->items[item].attempts;
    int err = ERR_OK;
    for (int n = 0; n < attempts && err == ERR_OK; n++) {
        int number = attempts > 1 ? n + 1 : 0;
        bool last = n == attempts - 1;
        err = route_add_point(rules, item, POINT_START, number, suffixes[n][0], NOT_SCORED);
        if (err == ERR_OK)
            err = route_add_point(rules, item, POINT_FINISH, number, suffixes[n][1],
                                  last ? SCORED_AS_ITEM : NOT_SCORED);
    }
    return err;
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    if (point->role == POINT_START)
        return reading->time == TIME_NONE ? "a start takes a time of day" : NULL;
    return reading->time == TIME_NONE && reading->elapsed == TIME_NONE
               ? "a finish takes a time of day or an elapsed"
               : NULL;
}

/* True where a completed attempt is better than another. */
static bool is_better(const struct scored_point *a, const struct scored_point *b) {
    if (a->price.fails != b->price.fails)
        return a->price.fails < b->price.fails;
    if (a->price.penalty != b->price.penalty)
        return a->price.penalty < b->price.penalty;
    return a->actual != TIME_NONE && (b->actual == TIME_NONE || a->actual < b->actual);
}

/* The attempts of a car, and which of them makes the result. */
struct attempts {
    struct scored_point tried[ATTEMPTS_MAX];
    int completed;
    int open;    /* that may still be completed */
    int counted; /* the one that counts; with the sum, the last completed; -1 */
};

static void try_attempts(const struct score_sheet *sheet, const struct item *item,
                         struct attempts *all) {
    enum attempts_counted counts = special_test_of(item)->counts;
    all->completed = all->open = 0;
    all->counted = -1;
    for (int n = 0; n < item->attempts; n++) {
        struct scored_point *sp = &all->tried[n];
        scored_point_clear(sp);
        attempt_work(sheet, item, n, sp);
        all->open += sp->outcome == OUTCOME_AWAITING;
        if (sp->outcome != OUTCOME_PRICED)
            continue;
        all->completed++;
        if (all->counted < 0 || counts != COUNTS_BEST || is_better(sp, &all->tried[all->counted]))
            all->counted = n;
    }
}

/* The costs of all attempts together, so far; those that were missed cost their part. */
static void add_up(const struct item *item, const struct attempts *all, struct price missed,
                   struct scored_point *sp) {
    sp->price = (struct price){0};
    sp->actual = sp->deviation = all->completed == item->attempts ? 0 : TIME_NONE;
    sp->due = TIME_NONE;
    for (int n = 0; n < item->attempts; n++) {
        const struct scored_point *one = &all->tried[n];
        const struct price *price = one->outcome == OUTCOME_PRICED ? &one->price : &missed;
        sp->faulted = sp->faulted || one->faulted || one->outcome != OUTCOME_PRICED;
        if (sp->actual != TIME_NONE)
            sp->actual = one->actual == TIME_NONE ? TIME_NONE : sp->actual + one->actual;
        if (one->outcome == OUTCOME_AWAITING)
            continue;
        sp->price.penalty = decimal_add(sp->price.penalty, price->penalty);
        sp->price.fails = fails_add(sp->price.fails, price->fails);
    }
    sp->deviation = sp->actual;
}

/* The attempt that a test stands for where none was completed: one that was read and only lacks
 * what it is measured from, then any that was read, then one that is open. */
static const struct scored_point *uncompleted(const struct item *item, const struct attempts *all) {
    const struct scored_point *best = NULL;
    int most = -1;
    for (int n = 0; n < item->attempts; n++) {
        const struct scored_point *sp = &all->tried[n];
        bool lacks = sp->cause == CAUSE_NO_START || sp->cause == CAUSE_NO_BEST;
        int weight = sp->reading == NULL ? sp->outcome == OUTCOME_AWAITING : lacks ? 3 : 2;
        if (weight > most) {
            most = weight;
            best = sp;
        }
    }
    return best;
}

/* The result of several attempts as one scored point. */
static void score_attempts(const struct score_sheet *sheet, const struct item *item,
                           struct scored_point *sp) {
    struct attempts all;
    try_attempts(sheet, item, &all);
    bool sum = special_test_of(item)->counts == COUNTS_SUM;
    *sp = all.counted >= 0 ? all.tried[all.counted] : *uncompleted(item, &all);
    sp->own_missed = true;
    if (all.open > 0 && (sum || all.completed == 0))
        sp->outcome = OUTCOME_AWAITING;
    if (sum) {
        add_up(item, &all, attempt_missed(sheet, item), sp);
        sp->so_far = all.open > 0 && all.open < item->attempts;
    } else if (all.completed == 0) {
        sp->price = attempt_missed(sheet, item);
    }
}

static void score(struct score_sheet *sheet, const struct item *item) {
    struct scored_point *sp = score_sheet_scored(sheet, item, 0);
    if (item->attempts > 1) {
        score_attempts(sheet, item, sp);
    } else {
        attempt_work(sheet, item, 0, sp);
        if (item->rule.missed_maximum && sp->outcome != OUTCOME_PRICED) {
            sp->price = attempt_missed(sheet, item);
            sp->own_missed = true;
        }
    }
    score_sheet_assess(sheet, item, sp);
}

/* The held elapsed of the attempt that counts, or the sum of all of them. */
static int64_t tie_time(const struct score_sheet *sheet, const struct item *item) {
    return sheet->scored[item->first_scored].actual;
}

/* Of an attempt that may still be completed, or charged as absent. */
static const char *awaited_words(const struct explain_context *context,
                                 const struct scored_point *sp) {
    if (sp->cause != CAUSE_NO_READING)
        return ", which may still come";
    const struct score_sheet *sheet = context->sheet;
    return score_sheet_absent(sheet, sheet->car, attempt_finish(context->item, sp->attempt))
               ? "; not charged so far"
               : " yet";
}

/* What an attempt came to: " = 41", "; missed, 120". */
static void explain_attempt(struct textbuf *b, const struct explain_context *context,
                            const struct scored_point *sp) {
    bool sum = special_test_of(context->item)->counts == COUNTS_SUM;
    textbuf_printf(b, "Attempt %d. ", sp->attempt + 1);
    attempt_explain(b, context, sp);
    if (sp->outcome == OUTCOME_AWAITING) {
        textbuf_puts(b, awaited_words(context, sp));
    } else if (sp->outcome == OUTCOME_MISSED && sum) {
        struct price missed = attempt_missed(context->sheet, context->item);
        /* Where a fault makes it missed, that has been said. */
        textbuf_puts(b, sp->cause == CAUSE_FAULT ? ": " : ": missed, ");
        explain_amount(b, missed.penalty, missed.fails);
        if (context->item->rule.missed_maximum) {
            textbuf_puts(b, " (");
            attempt_explain_missed(b, context);
            textbuf_putc(b, ')');
        }
    }
    textbuf_puts(b, ". ");
}

static void explain_attempts(struct textbuf *b, const struct explain_context *context) {
    const struct item *item = context->item;
    enum attempts_counted counts = special_test_of(item)->counts;
    struct attempts all;
    int told = 0;
    try_attempts(context->sheet, item, &all);
    bool known = all.completed > 0 || all.open < item->attempts;
    bool read = known;
    for (int n = 0; n < item->attempts; n++)
        read = read || all.tried[n].cause != CAUSE_NO_READING;
    if (!read)
        return;
    for (int n = 0; n < item->attempts; n++)
        explain_attempt(b, context, &all.tried[n]);
    if (!known)
        return;
    if (counts != COUNTS_SUM) {
        if (all.completed > 0)
            textbuf_printf(b, "Attempt %d counts, the %s. ", all.counted + 1,
                           counts == COUNTS_LAST ? "last completed" : "best");
        return;
    }
    struct price missed = attempt_missed(context->sheet, item);
    textbuf_puts(b, "Together ");
    for (int n = 0; n < item->attempts; n++) {
        if (all.tried[n].outcome == OUTCOME_AWAITING)
            continue;
        textbuf_puts(b, told++ > 0 ? " + " : "");
        const struct price *price =
            all.tried[n].outcome == OUTCOME_PRICED ? &all.tried[n].price : &missed;
        explain_amount(b, price->penalty, price->fails);
    }
    textbuf_puts(b, " = ");
    const struct price *sum = &context->sheet->scored[context->scored].price;
    explain_amount(b, sum->penalty, sum->fails);
    textbuf_puts(b, ". ");
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    if (context->item->attempts > 1) {
        explain_attempts(b, context);
        return;
    }
    if (sp->cause == CAUSE_NO_READING)
        return;
    attempt_explain(b, context, sp);
    textbuf_puts(b, ". ");
}

static void explain_missed(struct textbuf *b, const struct explain_context *context) {
    const struct item *item = context->item;
    bool sum = item->attempts > 1 && special_test_of(item)->counts == COUNTS_SUM;
    if (sum)
        textbuf_printf(b, " for %d attempts", item->attempts);
    if (!item->rule.missed_maximum)
        return;
    textbuf_puts(b, sum ? " (each " : " (");
    attempt_explain_missed(b, context);
    textbuf_putc(b, ')');
}

const struct kind kind_special_test = {
    .name = "special-test",
    .words = "special test",
    .is_test = true,
    .may_hide = true,
    .faults = FAULTS_OF_ATTEMPT,
    .keys = keys,
    .own_size = sizeof(struct special_test),
    .read = read,
    .lay_out = lay_out,
    .refusal = refusal,
    .score = score,
    .bid = attempt_bid,
    .tie_time = tie_time,
    .explain = explain,
    .explain_missed = explain_missed,
};
