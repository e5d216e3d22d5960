/* SPDX-License-Identifier: MIT */
/* How each field of a reading is written. */
#include "event/reading_form.h"

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
#include "event/reading_source.h"
#include "format/extra.h"

static bool parse_value(const char *what, const char *text, int (*parse)(const char *, int64_t *),
                        int64_t *out, struct textbuf *reason) {
    *out = TIME_NONE;
    if (*text == '\0')
        return true;
    int err = parse(text, out);
    if (err == ERR_OK)
        return true;
    if (err == ERR_PRECISION) {
        textbuf_printf(reason, "%s “%s” has more than three decimals", what, text);
        return false;
    }
    struct cure room;
    textbuf_printf(reason, "%s “%s” is not written as %s%s", what, text,
                   parse == time_parse ? "a time of day, such as 10:42:59"
                                       : "a duration, such as 00:01:23.45 or 83.45",
                   parse == time_parse ? cure_time(&room, text) : cure_duration(&room, text));
    return false;
}

/* What the correction columns say. False with a reason. */
static bool parse_correction(const struct reading_text *text, struct reading *out,
                             struct textbuf *reason) {
    const char *is_void = text->field[READING_VOID];
    const char *replaces = text->field[READING_REPLACES];
    out->is_void = strcmp(is_void, "yes") == 0;
    if (!out->is_void && *is_void != '\0' && strcmp(is_void, "no") != 0) {
        textbuf_printf(reason, "void “%s” must be yes or no", is_void);
        return false;
    }
    if (*replaces != '\0' && !fact_id_is_good(replaces)) {
        textbuf_printf(reason, "replaces “%s” is no id of a reading", replaces);
        return false;
    }
    if (out->is_void && *replaces == '\0') {
        textbuf_puts(reason, "void needs the id of a reading in “replaces”");
        return false;
    }
    if (*replaces != '\0' && text->field[READING_REASON][0] == '\0') {
        textbuf_puts(reason, out->is_void ? "withdrawing a reading needs a reason"
                                          : "correcting a reading needs a reason");
        return false;
    }
    if (*replaces != '\0' && strcmp(replaces, text->field[READING_ID]) == 0) {
        textbuf_puts(reason, "a reading cannot replace itself");
        return false;
    }
    return true;
}

static bool id_is_written(const char *id, struct textbuf *reason) {
    if (*id == '\0' || fact_id_is_good(id))
        return true;
    textbuf_printf(reason, "id “%s” must be 1 to %d of A-Z a-z 0-9 . _ : -", id, FACT_ID_MAX);
    return false;
}

static bool parse_times(const struct reading_text *text, struct reading *out,
                        struct textbuf *reason) {
    if (!parse_value("time", text->field[READING_TIME], time_parse, &out->time, reason) ||
        !parse_value("elapsed", text->field[READING_ELAPSED], duration_parse, &out->elapsed,
                     reason))
        return false;
    if (out->time == TIME_NONE || out->elapsed == TIME_NONE)
        return true;
    textbuf_puts(reason, "it has both a time and an elapsed");
    return false;
}

static bool parse_at(const char *at, struct reading *out, struct textbuf *reason) {
    out->has_at = *at != '\0';
    if (!out->has_at || instant_parse(at, &out->at) == ERR_OK)
        return true;
    textbuf_printf(reason,
                   "at “%s” is no RFC 3339 time with offset, such as "
                   "2027-05-20T10:42:59+02:00",
                   at);
    return false;
}

bool reading_form_is_good(const struct reading_text *text, struct textbuf *reason) {
    const char *car = text->field[READING_CAR];
    struct reading unused = {0};
    int64_t number;
    int count = 0;
    if (!id_is_written(text->field[READING_ID], reason))
        return false;
    if (text->field[READING_POINT][0] == '\0') {
        textbuf_puts(reason, "it names no point");
        return false;
    }
    if (decimal_parse_whole(car, 1, NUMBER_MAX, &number) != ERR_OK &&
        (*car != '\0' || !reading_names_desk(text->extras))) {
        textbuf_printf(reason, "car “%s” is no number from 1 to %d", car, NUMBER_MAX);
        return false;
    }
    return parse_times(text, &unused, reason) &&
           faults_parse(NULL, text->field[READING_FAULTS], NULL, &count, reason) &&
           parse_at(text->field[READING_AT], &unused, reason) &&
           parse_correction(text, &unused, reason);
}

static bool has_word(const char *words, const char *word) {
    size_t len = strlen(word);
    for (const char *p = words; *(p += strspn(p, " ")) != '\0'; p += strcspn(p, " ")) {
        if (strcspn(p, " ") == len && memcmp(p, word, len) == 0)
            return true;
    }
    return false;
}

/* Whose reading it is, or why it stands aside. False with a reason. */
static bool parse_car(const struct entries *entries, const struct reading_text *text,
                      struct reading *out, struct textbuf *reason) {
    const char *car = text->field[READING_CAR];
    int64_t number = 0;
    bool good = decimal_parse_whole(car, 1, NUMBER_MAX, &number) == ERR_OK;
    out->car = good ? entries_find(entries, number) : -1;
    if (out->car < 0 && text->from_desk && (good || *car == '\0')) {
        out->aside = good ? ASIDE_UNKNOWN_CAR : ASIDE_NO_CAR;
    } else if (out->car < 0 && !entries_may_have(entries, number)) {
        textbuf_printf(reason, "car “%s” is not in the entry list", car);
        return false;
    }
    if (text->from_desk && has_word(extra_value(text->extras, "flags"), "rehearsal"))
        out->aside = ASIDE_REHEARSAL;
    return true;
}

/* The faults that the reading's item names, and that its value is of a sort that the item takes.
 * False with a reason. */
static bool parse_for_item(const struct rules *rules, const struct item *item,
                           const struct reading_text *text, struct reading *out,
                           struct fault_count *faults, struct textbuf *reason) {
    const char *told = text->field[READING_FAULTS];
    bool good = text->from_desk ? faults_parse_named(item, told, faults, &out->fault_count,
                                                     &out->other_faults, reason)
                                : faults_parse(item, told, faults, &out->fault_count, reason);
    if (!good || !parse_at(text->field[READING_AT], out, reason) ||
        !parse_correction(text, out, reason))
        return false;
    if (out->point < 0)
        return true;
    const struct point *point = &rules->points[out->point];
    const struct item *base = &rules->items[point->item];
    const char *refusal =
        out->is_void ? NULL : kind_refusal(item == NULL ? base : item, point, out);
    /* What was kept while its car was in no list is not lost because a line of the item for that
     * car takes another sort of reading. */
    if (refusal != NULL && text->from_desk && kind_refusal(base, point, out) == NULL) {
        out->aside = ASIDE_UNKNOWN_CAR;
        refusal = NULL;
    }
    if (refusal != NULL)
        textbuf_puts(reason, refusal);
    return refusal == NULL;
}

bool reading_parse(const struct rules *rules, const struct entries *entries,
                   const struct reading_text *text, struct reading *out, struct fault_count *faults,
                   struct textbuf *reason) {
    reading_source_read(text, out);
    const char *id = text->field[READING_ID];
    const char *point = text->field[READING_POINT];
    if (!id_is_written(id, reason))
        return false;
    out->point = strmap_get(&rules->point_by_id, point);
    if (out->point < 0 && !rules_may_have_point(rules, point)) {
        int item = strmap_get(&rules->item_by_id, point);
        if (item >= 0)
            textbuf_printf(reason, "“%s” is a test: name one of its points, such as “%s”", point,
                           rules->points[rules->items[item].first_point].id);
        else
            textbuf_printf(reason, "point “%s” is not on the route", point);
        return false;
    }
    if (!parse_car(entries, text, out, reason) || !parse_times(text, out, reason))
        return false;
    int place = out->point < 0 ? -1 : rules->points[out->point].item;
    const struct item *item = entry_fault_item(rules, entries, out->car, place);
    if (!parse_for_item(rules, item, text, out, faults, reason))
        return false;
    if (out->aside != ASIDE_NOT)
        out->car = -1;
    if (out->aside != ASIDE_NO_CAR || out->is_void || out->time != TIME_NONE ||
        out->elapsed != TIME_NONE)
        return true;
    textbuf_puts(reason, "it names neither a car nor a time");
    return false;
}
