/* SPDX-License-Identifier: MIT */
#include "format/device_time.h"

#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "base/times.h"

enum { HOURS_MAX = 47, OFFSET_HOURS_MAX = 14 };

const char *const device_time_kinds[] = {"any",     "h:mm:ss", "hhmmss", "seconds",
                                         "rfc3339", "am/pm",   NULL};

/* A time taken apart. */
struct parts {
    int64_t hours, minutes, seconds;
    int64_t ms; /* decimals of the second */
    int64_t unit;
};

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/* `least` to `most` digits at *p, which is moved past them; -1 where they are not there. */
static int64_t number_at(const char **p, int least, int most) {
    int64_t value = 0;
    int count = 0;
    for (; count < most && is_digit(**p); count++)
        value = value * 10 + (*(*p)++ - '0');
    return count < least ? -1 : value;
}

/* ".f" to ".fff" at *p, which is moved past it; nothing there is none. */
static int decimals_at(const char **p, int64_t *ms, int64_t *unit) {
    int count = 0;
    *ms = 0;
    *unit = UNIT_SECOND;
    if (**p != '.')
        return ERR_OK;
    ++*p;
    for (; is_digit(**p); ++*p, count++) {
        if (count >= 3)
            return ERR_PRECISION;
        *unit /= 10;
        *ms += (**p - '0') * *unit;
    }
    return count == 0 ? ERR_SYNTAX : ERR_OK;
}

/* H:MM, H:MM:SS or H:MM:SS.fff at *p, which is moved past it. */
static int clock_at(const char **p, struct parts *out) {
    *out = (struct parts){.unit = UNIT_MINUTE};
    out->hours = number_at(p, 1, 2);
    if (out->hours < 0 || *(*p)++ != ':')
        return ERR_SYNTAX;
    out->minutes = number_at(p, 2, 2);
    if (out->minutes < 0)
        return ERR_SYNTAX;
    if (**p != ':')
        return ERR_OK;
    ++*p;
    out->seconds = number_at(p, 2, 2);
    return out->seconds < 0 ? ERR_SYNTAX : decimals_at(p, &out->ms, &out->unit);
}

static int sum_up(const struct parts *t, int64_t hours_max, int64_t *ms, int64_t *unit) {
    if (t->hours > hours_max || t->minutes > 59 || t->seconds > 59)
        return ERR_RANGE;
    *ms = ((t->hours * 60 + t->minutes) * 60 + t->seconds) * 1000 + t->ms;
    *unit = t->unit;
    return ERR_OK;
}

static int read_clock(const char *text, int64_t *ms, int64_t *unit) {
    struct parts t;
    int err = clock_at(&text, &t);
    if (err != ERR_OK)
        return err;
    return *text != '\0' ? ERR_SYNTAX : sum_up(&t, HOURS_MAX, ms, unit);
}

static int read_compact(const char *text, int64_t *ms, int64_t *unit) {
    struct parts t = {0};
    t.hours = number_at(&text, 2, 2);
    t.minutes = number_at(&text, 2, 2);
    t.seconds = number_at(&text, 2, 2);
    if (t.hours < 0 || t.minutes < 0 || t.seconds < 0)
        return ERR_SYNTAX;
    int err = decimals_at(&text, &t.ms, &t.unit);
    if (err != ERR_OK)
        return err;
    return *text != '\0' ? ERR_SYNTAX : sum_up(&t, HOURS_MAX, ms, unit);
}

static int read_seconds(const char *text, int64_t *ms, int64_t *unit) {
    int64_t decimals;
    int64_t written;
    int64_t seconds = number_at(&text, 1, 6);
    if (seconds < 0)
        return ERR_SYNTAX;
    int err = decimals_at(&text, &decimals, &written);
    if (err != ERR_OK)
        return err;
    if (*text != '\0')
        return ERR_SYNTAX;
    if (seconds >= (HOURS_MAX + INT64_C(1)) * 3600)
        return ERR_RANGE;
    *ms = seconds * 1000 + decimals;
    *unit = written;
    return ERR_OK;
}

/* "am" or "pm" at the end, with or without a blank before it and whatever its letters. */
static int read_halves(const char *text, int64_t *ms, int64_t *unit) {
    struct parts t;
    int err = clock_at(&text, &t);
    if (err != ERR_OK)
        return err;
    text += strspn(text, " ");
    bool after_noon = *text == 'p' || *text == 'P';
    if ((!after_noon && *text != 'a' && *text != 'A') || (text[1] != 'm' && text[1] != 'M') ||
        text[2] != '\0')
        return ERR_SYNTAX;
    if (t.hours < 1 || t.hours > 12)
        return ERR_RANGE;
    t.hours = t.hours % 12 + (after_noon ? 12 : 0);
    return sum_up(&t, HOURS_MAX, ms, unit);
}

static int offset_at(const char **p, int64_t *ms) {
    char sign = *(*p)++;
    *ms = 0;
    if (sign == 'Z' || sign == 'z')
        return ERR_OK;
    if (sign != '+' && sign != '-')
        return ERR_SYNTAX;
    int64_t hours = number_at(p, 2, 2);
    if (hours < 0 || *(*p)++ != ':')
        return ERR_SYNTAX;
    int64_t minutes = number_at(p, 2, 2);
    if (minutes < 0)
        return ERR_SYNTAX;
    if (hours > OFFSET_HOURS_MAX || minutes > 59)
        return ERR_RANGE;
    *ms = (sign == '-' ? -1 : 1) * (hours * 60 + minutes) * INT64_C(60000);
    return ERR_OK;
}

int device_offset_read(const char *text, int64_t *ms) {
    int64_t offset;
    if (*text == '\0')
        return ERR_SYNTAX;
    int err = offset_at(&text, &offset);
    if (err == ERR_OK && *text != '\0')
        err = ERR_SYNTAX;
    if (err == ERR_OK)
        *ms = offset;
    return err;
}

/* The parts of YYYY-MM-DDTHH:MM:SS.fff and an offset; `offset` is TIME_NONE where there is none. */
static int take_dated(const char *text, int64_t *day, struct parts *t, int64_t *offset) {
    enum { DATE_LEN = 10 };
    char date[DATE_LEN + 1] = "";
    if (strlen(text) <= DATE_LEN)
        return ERR_SYNTAX;
    memcpy(date, text, DATE_LEN);
    int err = date_parse(date, day);
    text += DATE_LEN;
    if (err == ERR_OK && *text != 'T' && *text != 't' && *text != ' ')
        err = ERR_SYNTAX;
    text++;
    if (err == ERR_OK)
        err = clock_at(&text, t);
    *offset = TIME_NONE;
    if (err == ERR_OK && *text != '\0')
        err = offset_at(&text, offset);
    if (err == ERR_OK && *text != '\0')
        err = ERR_SYNTAX;
    return err;
}

static int read_dated(const char *text, const struct device_time_form *form, int64_t *ms,
                      int64_t *unit, struct textbuf *why) {
    struct parts t;
    int64_t day;
    int64_t offset;
    int64_t at;
    int64_t written;
    int err = take_dated(text, &day, &t, &offset);
    if (err == ERR_OK)
        err = sum_up(&t, 23, &at, &written);
    if (err != ERR_OK)
        return err;
    if (form->day == TIME_NONE) {
        textbuf_printf(why, "“%s” has a date: tell the day of the readings with --date", text);
        return ERR_INPUT;
    }
    if (offset == 0 && form->offset == TIME_NONE) {
        textbuf_printf(why, "“%s” is the world's time: tell the event's with --utc-offset", text);
        return ERR_INPUT;
    }
    at += (day - form->day) * DAY_MS;
    if (offset != TIME_NONE && form->offset != TIME_NONE)
        at += form->offset - offset;
    if (at < 0 || at >= INT64_C(2) * DAY_MS) {
        textbuf_printf(why, "“%s” is of another day than ", text);
        (void)date_write(why, form->day);
        return ERR_INPUT;
    }
    *ms = at;
    *unit = written;
    return ERR_OK;
}

/* What a text looks like. DEVICE_TIME_ANY where it may be two things, or is nothing known. */
static enum device_time_kind kind_of(const char *text) {
    size_t whole = strspn(text, "0123456789");
    const char *last = *text == '\0' ? text : text + strlen(text) - 1;
    if (*last == 'm' || *last == 'M')
        return DEVICE_TIME_HALVES;
    if (whole == 4 && text[whole] == '-')
        return DEVICE_TIME_DATED;
    if (text[whole] == ':')
        return DEVICE_TIME_CLOCK;
    return whole == 6 ? DEVICE_TIME_COMPACT : DEVICE_TIME_ANY;
}

int device_time_read(const char *text, const struct device_time_form *form, int64_t *ms,
                     int64_t *unit, struct textbuf *why) {
    enum device_time_kind kind = form->kind == DEVICE_TIME_ANY ? kind_of(text) : form->kind;
    switch (kind) {
    case DEVICE_TIME_CLOCK:
        return read_clock(text, ms, unit);
    case DEVICE_TIME_COMPACT:
        return read_compact(text, ms, unit);
    case DEVICE_TIME_SECONDS:
        return read_seconds(text, ms, unit);
    case DEVICE_TIME_DATED:
        return read_dated(text, form, ms, unit, why);
    case DEVICE_TIME_HALVES:
        return read_halves(text, ms, unit);
    case DEVICE_TIME_ANY:
        break;
    }
    size_t whole = strspn(text, "0123456789");
    if (whole == 0 || (text[whole] != '\0' && text[whole] != '.'))
        return ERR_SYNTAX;
    textbuf_printf(why,
                   "“%s” may be seconds of the day or a clock without colons: tell which with "
                   "--time-format",
                   text);
    return ERR_INPUT;
}

int device_duration_read(const char *text, int64_t *ms, struct textbuf *why) {
    const char *colon = strchr(text, ':');
    int64_t unit;
    if (colon == NULL)
        return duration_parse(text, ms);
    if (strchr(colon + 1, ':') != NULL)
        return read_clock(text, ms, &unit);
    struct parts t = {0};
    const char *p = text;
    t.minutes = number_at(&p, 1, 3);
    if (t.minutes < 0 || *p++ != ':')
        return ERR_SYNTAX;
    t.seconds = number_at(&p, 2, 2);
    if (t.seconds < 0)
        return ERR_SYNTAX;
    if (*p == '\0' && colon == text + 2)
        return duration_parse(text, ms);
    if (*p == '\0') {
        textbuf_printf(why,
                       "“%s” may be minutes and seconds or hours and minutes: write it with all "
                       "three",
                       text);
        return ERR_INPUT;
    }
    int err = decimals_at(&p, &t.ms, &unit);
    if (err != ERR_OK)
        return err;
    if (*p != '\0')
        return ERR_SYNTAX;
    if (t.seconds > 59)
        return ERR_RANGE;
    *ms = (t.minutes * 60 + t.seconds) * 1000 + t.ms;
    return ERR_OK;
}
