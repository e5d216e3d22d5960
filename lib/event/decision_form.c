/* SPDX-License-Identifier: MIT */
/* What each kind of decision takes, and how its fields are written. */
#include "event/decision_form.h"

#include <string.h>

#include "base/cure.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/strmap.h"
#include "base/textbuf.h"
#include "event/car_route.h"
#include "event/fact.h"
#include "event/faults.h"
#include "event/kind.h"
#include "event/schedule.h"

enum { FAILS_DECIDED_MAX = 99 };

/* What each kind takes: the table of the contract. */
static const struct {
    const char *word;
    bool car;
    enum { NO_POINT, NEEDS_POINT, MAY_POINT } point;
    enum {
        NO_VALUE,
        DURATION,
        PENALTY_OR_AVERAGE,
        PENALTY_OR_LESS,
        NUMBER_OF_FAILS,
        FAULTS,
        DAY_NUMBER,
        ID_OF_DECISION
    } value;
} forms[DECIDE_COUNT] = {
    [DECIDE_ALLOWANCE] = {"allowance", true, NEEDS_POINT, DURATION},
    [DECIDE_PENALTY] = {"penalty", true, MAY_POINT, PENALTY_OR_LESS},
    [DECIDE_FAILS] = {"fails", true, MAY_POINT, NUMBER_OF_FAILS},
    [DECIDE_FAULTS] = {"faults", true, NEEDS_POINT, FAULTS},
    [DECIDE_WAIVE] = {"waive", true, NEEDS_POINT, NO_VALUE},
    [DECIDE_NOTIONAL] = {"notional", true, NEEDS_POINT, PENALTY_OR_AVERAGE},
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

static bool parse_target(const struct rules *rules, const struct decision_text *text,
                         struct decision *out, struct textbuf *reason) {
    const char *point = text->field[DECISION_POINT];
    out->target = TARGET_NONE;
    if (*point == '\0')
        return true;
    int64_t day;
    if (out->kind == DECIDE_CLOSE && strncmp(point, "day:", 4) == 0) {
        if (decimal_parse_whole(point + 4, 1, rules->day_count, &day) != ERR_OK) {
            textbuf_printf(reason, "“%s” is no day of this event", point);
            return false;
        }
        out->target = TARGET_DAY;
        out->place = (int)day - 1;
        return true;
    }
    /* A control's id is both its item's and its point's; the item stands for all its points. */
    out->place = strmap_get(&rules->item_by_id, point);
    out->target = TARGET_ITEM;
    if (out->place < 0) {
        out->place = strmap_get(&rules->point_by_id, point);
        out->target = TARGET_POINT;
    }
    if (out->place < 0 && !rules_may_have_point(rules, point)) {
        textbuf_printf(reason, "point “%s” is not on the route%s", point,
                       out->kind == DECIDE_CLOSE ? "; a day is written day:1" : "");
        return false;
    }
    return true;
}

/* True where what a decision names could be read, so that it can be asked what it is. */
static bool target_is_known(const struct rules *rules, const struct decision *decision) {
    return decision->place >= 0 &&
           (decision->target != TARGET_ITEM || !rules->items[decision->place].unread);
}

/* Faults are told at a point that takes readings: of a control, its own. */
static bool check_point_of_faults(const struct rules *rules, const char *id, struct decision *out,
                                  struct textbuf *reason) {
    int point = strmap_get(&rules->point_by_id, id);
    if (point < 0) {
        textbuf_printf(reason,
                       "“%s” is a test: name the point of it where the fault was, such as “%s”", id,
                       rules->points[rules->items[out->place].first_point].id);
        return false;
    }
    out->target = TARGET_POINT;
    out->place = point;
    return true;
}

/* Where a car may be held up: at what is timed, and at the end of a test that is on the road. */
static bool takes_allowance(const struct rules *rules, int place) {
    const struct point *point = &rules->points[place];
    const struct item *item = &rules->items[point->item];
    return point->role == POINT_CHECK || point->role == POINT_START ||
           (schedule_has_finish(item) && place == schedule_point(item));
}

/* The scored point of a whole test, such as a special test's, has the test's id and not the
 * point's. */
static bool is_scored_by_itself(const struct rules *rules, const struct point *point) {
    return point->scored >= 0 && strcmp(rules->scored[point->scored].id, point->id) == 0;
}

/* What is not scored by itself costs something all the same where faults may be told at it: at a
 * start, a nominated time, a way out, a reference lap. */
static bool costs_by_faults(const struct item *item, const struct point *point) {
    return point->scored < 0 && item->fault_count > 0 &&
           kind_of(item->kind)->faults != FAULTS_OF_ATTEMPT;
}

/* Checks that the kind can be given at its target. False with a reason. */
static bool check_target(const struct rules *rules, const struct decision_text *text,
                         struct decision *out, struct textbuf *reason) {
    const char *id = text->field[DECISION_POINT];
    if (out->kind == DECIDE_ALLOWANCE) {
        if (out->target == TARGET_ITEM && rules->items[out->place].kind == KIND_TIME_CONTROL) {
            out->place = rules->items[out->place].first_point;
            out->target = TARGET_POINT;
            return true;
        }
        if (out->target == TARGET_POINT && takes_allowance(rules, out->place))
            return true;
        textbuf_printf(reason,
                       "an allowance is given at a time control, a check, a pad or a start, not "
                       "at “%s”",
                       id);
        return false;
    }
    if (out->kind == DECIDE_FAULTS)
        return check_point_of_faults(rules, id, out, reason);
    if (out->target != TARGET_POINT ||
        (out->kind != DECIDE_CANCEL && out->kind != DECIDE_WAIVE && out->kind != DECIDE_NOTIONAL))
        return true;
    const struct point *point = &rules->points[out->place];
    /* The reference lap is not scored, but its faults are left out with it. */
    if (point->role == POINT_LAP && (point->scored >= 0 || out->kind != DECIDE_NOTIONAL))
        return true;
    if (is_scored_by_itself(rules, point))
        return true;
    if (out->kind != DECIDE_NOTIONAL && costs_by_faults(&rules->items[point->item], point))
        return true;
    textbuf_printf(reason, "“%s” is not scored by itself; name a scored point or “%s”", id,
                   rules->items[point->item].id);
    return false;
}

/* "average" needs other tests of the kind, which single points and controls have not. */
static bool check_average(const struct rules *rules, const struct decision_text *text,
                          const struct decision *decision, struct textbuf *reason) {
    if (!target_is_known(rules, decision) ||
        (decision->target == TARGET_ITEM && rules->items[decision->place].test >= 0))
        return true;
    textbuf_printf(reason, "“average” is the result of a whole test, which “%s” is not",
                   text->field[DECISION_POINT]);
    return false;
}

static bool parse_value(const struct rules *rules, const struct entries *entries,
                        const struct decision_text *text, struct decision *out,
                        struct fault_count *faults, struct textbuf *reason) {
    const char *value = text->field[DECISION_VALUE];
    static const struct {
        const char *needed;
        const char *wanted;
    } words[] = {[DURATION] = {"a duration", "a duration, such as 00:05:00 or 300"},
                 [PENALTY_OR_AVERAGE] = {"a penalty", "a penalty or “average”"},
                 [PENALTY_OR_LESS] = {"a penalty", "a penalty"},
                 [NUMBER_OF_FAILS] = {"a number of fails", "a number of fails from 1 to 99"},
                 [FAULTS] = {"faults such as cone=2;line=1", ""},
                 [DAY_NUMBER] = {"a day number", "a day of this event"},
                 [ID_OF_DECISION] = {"the id of a decision", "an id of a decision"}};
    int form = (int)forms[out->kind].value;
    int err = ERR_OK;
    if (*value == '\0' && form != NO_VALUE) {
        textbuf_printf(reason, "%s needs %s as value", forms[out->kind].word, words[form].needed);
        return false;
    }
    switch (form) {
    case NO_VALUE:
        if (*value == '\0')
            return true;
        textbuf_printf(reason, "%s takes no value, but has “%s”", forms[out->kind].word, value);
        return false;
    case DURATION:
        err = duration_parse(value, &out->value);
        break;
    case PENALTY_OR_AVERAGE:
        out->average = strcmp(value, "average") == 0;
        if (out->average)
            return check_average(rules, text, out, reason);
        err = decimal_parse(value, &out->value);
        if (err == ERR_OK && out->value < 0)
            err = ERR_RANGE;
        break;
    case PENALTY_OR_LESS:
        err = decimal_parse(value, &out->value);
        break;
    case NUMBER_OF_FAILS:
        err = decimal_parse_whole(value, 1, FAILS_DECIDED_MAX, &out->value);
        break;
    case FAULTS:
        return faults_parse(entry_fault_item(rules, entries, out->car,
                                             out->target == TARGET_POINT && out->place >= 0
                                                 ? rules->points[out->place].item
                                                 : -1),
                            value, faults, &out->fault_count, reason);
    case DAY_NUMBER:
        err = decimal_parse_whole(value, 1, rules->day_count, &out->value);
        out->value--;
        break;
    case ID_OF_DECISION:
        err = fact_id_is_good(value) ? ERR_OK : ERR_SYNTAX;
        break;
    }
    if (err == ERR_OK)
        return true;
    if (err == ERR_PRECISION) {
        textbuf_printf(reason, "value “%s” has more than three decimals", value);
        return false;
    }
    struct cure room;
    textbuf_printf(reason, "value “%s” is not %s", value, words[form].wanted);
    if (err == ERR_SYNTAX && form <= PENALTY_OR_LESS)
        textbuf_puts(reason,
                     form == DURATION ? cure_duration(&room, value) : cure_number(&room, value));
    return false;
}

static bool is_blank(const char *text) {
    return text[strspn(text, " \t\r\n")] == '\0';
}

static bool parse_car(const struct entries *entries, const struct decision_text *text,
                      struct decision *out, struct textbuf *reason) {
    const char *car = text->field[DECISION_CAR];
    const char *word = forms[out->kind].word;
    int64_t number = 0;
    out->car = -1;
    if (!forms[out->kind].car) {
        if (*car != '\0')
            textbuf_printf(reason, "%s takes no car, but has “%s”", word, car);
        return *car == '\0';
    }
    if (decimal_parse_whole(car, 1, NUMBER_MAX, &number) == ERR_OK)
        out->car = entries_find(entries, number);
    if (*car == '\0')
        textbuf_printf(reason, "%s needs a car", word);
    else if (out->car < 0 && !entries_may_have(entries, number))
        textbuf_printf(reason, "car “%s” is not in the entry list", car);
    return out->car >= 0 || entries_may_have(entries, number);
}

bool decision_parse(const struct rules *rules, const struct entries *entries,
                    const struct decision_text *text, struct decision *out,
                    struct fault_count *faults, struct textbuf *reason) {
    const char *word = text->field[DECISION_KIND];
    const char *point = text->field[DECISION_POINT];
    const char *id = text->field[DECISION_ID];
    const char *at = text->field[DECISION_AT];
    int kind = 0;
    while (kind < DECIDE_COUNT && strcmp(forms[kind].word, word) != 0)
        kind++;
    if (kind == DECIDE_COUNT) {
        textbuf_printf(reason, "kind “%s” is not known; write ", word);
        for (int i = 0; i < DECIDE_COUNT; i++)
            textbuf_printf(reason, "%s%s",
                           i == 0                 ? ""
                           : i + 1 < DECIDE_COUNT ? ", "
                                                  : " or ",
                           forms[i].word);
        return false;
    }
    out->kind = (enum decision_kind)kind;
    if (*id != '\0' && !fact_id_is_good(id)) {
        textbuf_printf(reason, "id “%s” must be 1 to 64 of A-Z a-z 0-9 . _ : -", id);
        return false;
    }
    if (!parse_car(entries, text, out, reason))
        return false;
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
        textbuf_printf(reason,
                       "at “%s” is no RFC 3339 time with offset, such as "
                       "2027-05-20T10:42:59+02:00",
                       at);
        return false;
    }
    out->has_at = *at != '\0';
    return parse_target(rules, text, out, reason) &&
           (!target_is_known(rules, out) || check_target(rules, text, out, reason)) &&
           parse_value(rules, entries, text, out, faults, reason);
}
