/* SPDX-License-Identifier: MIT */
#include "event/faults.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/kind.h"
#include "event/penalty.h"
#include "format/json_read.h"

/* A penalty, {"fails": n}, "missed" or "maximum". False where it is none of them, reported. */
static bool read_worth(const struct json_reader *reader, const json_t *object, const json_t *value,
                       const struct json_place *place, const char *key, bool allow_maximum,
                       const struct item *item, struct fault_rule *fault) {
    struct json_place here = {.up = place, .key = key};
    /* See variants_join_faults. */
    if (json_is_null(value) && (item->base != NULL || json_object_get(object, "for") != NULL)) {
        fault->worth = FAULT_NOT_NAMED;
        return true;
    }
    if (json_is_object(value)) {
        fault->worth = FAULT_FAILS;
        return fails_read(reader, value, &here, &fault->fails);
    }
    const char *word = json_is_string(value) ? json_string_value(value) : "";
    if (strcmp(word, "missed") == 0) {
        fault->worth = FAULT_MISSED;
    } else if (strcmp(word, "maximum") == 0) {
        fault->worth = FAULT_MAXIMUM;
        if (!allow_maximum)
            json_wrong(reader, place, key,
                       "only a fault of a special test can be “maximum”; write a penalty, "
                       "{\"fails\": 1} or “missed”");
        else if (json_object_get(object, "maximum") == NULL)
            json_wrong(reader, place, key, "“maximum” needs the test's “maximum” to be set");
    } else if ((*word >= 'a' && *word <= 'z') || penalty_has_words(value) ||
               !json_is_string(value)) {
        json_wrong(reader, place, key, "must be a penalty, {\"fails\": 1}%s“missed”%s",
                   allow_maximum ? ", " : " or ", allow_maximum ? " or “maximum”" : "");
        return false;
    } else {
        fault->worth = FAULT_PENALTY;
        return json_value_decimal(reader, value, place, key, 0, DECIMAL_MAX, &fault->penalty);
    }
    return true;
}

void faults_read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, bool allow_maximum, struct item *item) {
    const json_t *faults = json_object_get(object, "faults");
    struct json_place here = {.up = place, .key = "faults"};
    if (faults == NULL)
        return;
    if (!json_is_object(faults) || json_object_size(faults) > PARTS_MAX) {
        json_wrong(reader, place, "faults", "must be an object of at most %d faults", PARTS_MAX);
        return;
    }
    item->faults = arena_array(reader->arena, json_object_size(faults), sizeof *item->faults);
    if (item->faults == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)faults, key, value) {
        struct fault_rule *fault = &item->faults[item->fault_count];
        if (!rule_id_is_good(key)) {
            json_wrong(reader, &here, key, "must be 1 to %d of A-Z a-z 0-9 _ -", RULE_ID_MAX);
            continue;
        }
        if (!read_worth(reader, object, value, &here, key, allow_maximum, item, fault))
            continue;
        fault->name = arena_text(reader->arena, key, strlen(key));
        if (fault->name == NULL) {
            reader->problems->out_of_memory = true;
            return;
        }
        item->fault_count++;
    }
}

static int fault_named(const struct item *item, const char *name, size_t len) {
    for (int i = 0; i < item->fault_count; i++) {
        const struct fault_rule *fault = &item->faults[i];
        if (strncmp(fault->name, name, len) == 0 && fault->name[len] == '\0')
            return i;
    }
    return -1;
}

/* Which faults a control, regularity or set-time test names for that car. */
static void write_named(struct textbuf *reason, const struct item *item) {
    const char *before = "; it names ";
    if (kind_of(item->kind)->faults != FAULTS_AT_POINT)
        return;
    for (int i = 0; i < item->fault_count; i++) {
        if (item->faults[i].worth == FAULT_NOT_NAMED)
            continue;
        textbuf_printf(reason, "%s%s", before, item->faults[i].name);
        before = ", ";
    }
}

/* Reads faults.
 *   others  gets whether there is one that the item does not name; NULL: that is wrong */
static bool parse(const struct item *item, const char *text, struct fault_count *out, int *count,
                  bool *others, struct textbuf *reason) {
    *count = 0;
    for (const char *p = text; *p != '\0';) {
        size_t len = strcspn(p, ";");
        const char *equals = memchr(p, '=', len);
        char digits[8] = "";
        int64_t number = 0;
        if (equals != NULL && len - (size_t)(equals - p) - 1 < sizeof digits)
            memcpy(digits, equals + 1, len - (size_t)(equals - p) - 1);
        int wrong = equals == NULL || equals == p
                        ? ERR_SYNTAX
                        : decimal_parse_whole(digits, 0, FAULT_COUNT_MAX, &number);
        if (wrong == ERR_RANGE) {
            textbuf_printf(reason, "faults “%s”: at most %d of one fault", text, FAULT_COUNT_MAX);
            return false;
        }
        if (wrong != ERR_OK) {
            textbuf_printf(reason, "faults “%s” must be written like cone=2;line=1", text);
            return false;
        }
        int fault = item == NULL ? 0 : fault_named(item, p, (size_t)(equals - p));
        bool of_others = item != NULL && fault >= 0 && item->faults[fault].worth == FAULT_NOT_NAMED;
        if ((fault < 0 || of_others) && others != NULL) {
            *others = true;
        } else if (fault < 0 || of_others) {
            textbuf_printf(reason, "%s names no fault “%.*s”%s", item->id, (int)(equals - p), p,
                           of_others ? " for this car" : "");
            write_named(reason, item);
            return false;
        }
        bool named = item != NULL && fault >= 0 && !of_others;
        for (int i = 0; named && i < *count; i++) {
            if (out[i].fault == fault) {
                textbuf_printf(reason, "faults “%s” name one fault twice", text);
                return false;
            }
        }
        if (named)
            out[(*count)++] = (struct fault_count){fault, (int)number};
        p += len;
        if (*p == ';' && *++p == '\0') {
            textbuf_printf(reason, "faults “%s” end in a semicolon", text);
            return false;
        }
    }
    return true;
}

bool faults_parse(const struct item *item, const char *text, struct fault_count *out, int *count,
                  struct textbuf *reason) {
    return parse(item, text, out, count, NULL, reason);
}

bool faults_parse_named(const struct item *item, const char *text, struct fault_count *out,
                        int *count, bool *others, struct textbuf *reason) {
    return parse(item, text, out, count, others, reason);
}

void faults_join(struct fault_sum *sum, const struct fault_sum *more) {
    sum->penalty = decimal_add(sum->penalty, more->penalty);
    sum->fails = fails_add(sum->fails, more->fails);
    sum->missed = sum->missed < 0 ? more->missed : sum->missed;
    sum->maximum = sum->maximum < 0 ? more->maximum : sum->maximum;
    sum->any = sum->any || more->any;
}

void faults_add(struct fault_sum *sum, const struct item *item, const struct fault_count *told,
                int count) {
    for (int i = 0; i < count; i++) {
        const struct fault_rule *fault = &item->faults[told[i].fault];
        int64_t cost;
        if (told[i].count == 0 || fault->worth == FAULT_NOT_NAMED)
            continue;
        sum->any = true;
        switch (fault->worth) {
        case FAULT_PENALTY:
            /* A penalty is at most DECIMAL_MAX: its product with a count may pass 2^63. */
            if (__builtin_mul_overflow(fault->penalty, (int64_t)told[i].count, &cost) ||
                cost > DECIMAL_MAX)
                cost = DECIMAL_MAX;
            sum->penalty = decimal_add(sum->penalty, cost);
            break;
        case FAULT_FAILS:
            sum->fails = fails_add(sum->fails, fault->fails * told[i].count);
            break;
        case FAULT_MISSED:
            if (sum->missed < 0)
                sum->missed = told[i].fault;
            break;
        default:
            if (sum->maximum < 0)
                sum->maximum = told[i].fault;
            break;
        }
    }
}
