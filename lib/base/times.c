/* SPDX-License-Identifier: MIT */
#include "base/times.h"

#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"

static const struct {
    const char *name;
    int64_t unit;
} named_units[] = {{"minute", UNIT_MINUTE},
                   {"second", UNIT_SECOND},
                   {"tenth", UNIT_TENTH},
                   {"hundredth", UNIT_HUNDREDTH},
                   {"millisecond", UNIT_MILLISECOND}};

enum { NAMED_UNITS = sizeof named_units / sizeof *named_units };

int64_t unit_of_name(const char *name) {
    for (int i = 0; i < NAMED_UNITS; i++) {
        if (strcmp(named_units[i].name, name) == 0)
            return named_units[i].unit;
    }
    return 0;
}

const char *unit_name(int64_t unit) {
    for (int i = 0; i < NAMED_UNITS; i++) {
        if (named_units[i].unit == unit)
            return named_units[i].name;
    }
    return NULL;
}

const char *unit_name_within(int64_t unit) {
    int i = 0;
    while (unit % named_units[i].unit != 0)
        i++; /* no further than the last: every unit is whole milliseconds */
    return named_units[i].name;
}

/* Exactly `count` digits at *p, which is moved past them. -1 where they are not there. */
static int64_t digits(const char **p, int count) {
    int64_t value = 0;
    for (int i = 0; i < count; i++) {
        char c = (*p)[i];
        if (c < '0' || c > '9')
            return -1;
        value = value * 10 + (c - '0');
    }
    *p += count;
    return value;
}

int time_parse(const char *text, int64_t *out) {
    const char *p = text;
    int64_t hours = digits(&p, 2);
    if (hours < 0 || *p++ != ':')
        return ERR_SYNTAX;
    int64_t minutes = digits(&p, 2);
    if (minutes < 0)
        return ERR_SYNTAX;
    int64_t seconds = 0;
    int64_t ms = 0;
    if (*p == ':') {
        p++;
        seconds = digits(&p, 2);
        if (seconds < 0)
            return ERR_SYNTAX;
        if (*p == '.') {
            int err = decimal_parse_places(p + 1, &ms);
            if (err != ERR_OK)
                return err;
            p = "";
        }
    }
    if (*p != '\0')
        return ERR_SYNTAX;
    if (hours > 47 || minutes > 59 || seconds > 59)
        return ERR_RANGE;
    *out = ((hours * 60 + minutes) * 60 + seconds) * 1000 + ms;
    return ERR_OK;
}

int duration_parse(const char *text, int64_t *out) {
    if (strchr(text, ':') != NULL)
        return time_parse(text, out);
    if (*text == '-')
        return ERR_SYNTAX;
    int64_t value;
    int err = decimal_parse(text, &value); /* thousandths of a second are milliseconds */
    if (err != ERR_OK)
        return err;
    if (value >= INT64_C(48) * 3600 * 1000)
        return ERR_RANGE;
    *out = value;
    return ERR_OK;
}

static int needed_decimals(int64_t size) {
    int64_t rest = size % 1000;
    return rest == 0 ? 0 : rest % 100 == 0 ? 1 : rest % 10 == 0 ? 2 : 3;
}

int unit_decimals(int64_t unit) {
    return needed_decimals(unit);
}

static void put_fraction(struct textbuf *b, int64_t size, int decimals) {
    if (decimals == 0)
        return;
    char tail[4] = {'.', (char)('0' + size / 100 % 10), (char)('0' + size / 10 % 10),
                    (char)('0' + size % 10)};
    textbuf_add(b, tail, (size_t)decimals + 1);
}

void time_write(struct textbuf *b, int64_t ms, int decimals) {
    int64_t size = ms < 0 ? -ms : ms;
    int needed = needed_decimals(size);
    if (ms < 0)
        textbuf_putc(b, '-');
    textbuf_printf(b, "%02lld:%02lld:%02lld", (long long)(size / 3600000),
                   (long long)(size / 60000 % 60), (long long)(size / 1000 % 60));
    put_fraction(b, size, needed > decimals ? needed : decimals);
}

void time_write_short(struct textbuf *b, int64_t ms) {
    if (ms % 60000 != 0 || ms < 0) {
        time_write(b, ms, 0);
        return;
    }
    textbuf_printf(b, "%02lld:%02lld", (long long)(ms / 3600000), (long long)(ms / 60000 % 60));
}

void duration_write_words(struct textbuf *b, int64_t ms) {
    int64_t size = ms < 0 ? -ms : ms;
    int64_t hours = size / 3600000;
    int64_t minutes = size / 60000 % 60;
    int64_t rest = size % 60000;
    const char *gap = "";
    if (hours > 0) {
        textbuf_printf(b, "%lld h", (long long)hours);
        gap = " ";
    }
    if (minutes > 0) {
        textbuf_printf(b, "%s%lld min", gap, (long long)minutes);
        gap = " ";
    }
    if (rest > 0 || *gap == '\0') {
        textbuf_printf(b, "%s%lld", gap, (long long)(rest / 1000));
        put_fraction(b, rest, needed_decimals(rest));
        textbuf_puts(b, " s");
    }
}

/* Days since 1970-01-01 of a date in the proleptic Gregorian calendar; the era of 400 years has
 * 146097 days, and years are counted from March so that the leap day comes last. */
static int64_t days_of(int64_t year, int64_t month, int64_t day) {
    year -= month <= 2;
    int64_t era = year / 400;
    int64_t of_era = year - era * 400;
    int64_t of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

static int month_days(int64_t year, int64_t month) {
    static const int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return lengths[month - 1] + (month == 2 && leap ? 1 : 0);
}

/* The date at *p, which is moved past it. */
static int date_at(const char **p, int64_t *days) {
    int64_t year = digits(p, 4);
    if (year < 0 || *(*p)++ != '-')
        return ERR_SYNTAX;
    int64_t month = digits(p, 2);
    if (month < 0 || *(*p)++ != '-')
        return ERR_SYNTAX;
    int64_t day = digits(p, 2);
    if (day < 0)
        return ERR_SYNTAX;
    if (year < 1885 || month < 1 || month > 12 || day < 1 || day > month_days(year, month))
        return ERR_RANGE;
    *days = days_of(year, month, day);
    return ERR_OK;
}

int date_parse(const char *text, int64_t *out) {
    int64_t days;
    const char *p = text;
    int err = date_at(&p, &days);
    if (err != ERR_OK)
        return err;
    if (*p != '\0')
        return ERR_SYNTAX;
    *out = days;
    return ERR_OK;
}

int date_write(struct textbuf *b, int64_t days) {
    int64_t year = 1885;
    int64_t month = 1;
    if (days < days_of(1885, 1, 1) || days > days_of(9999, 12, 31))
        return ERR_RANGE;
    /* A year is at most 366 days long, so this never passes it. */
    year += (days - days_of(1885, 1, 1)) / 366;
    while (days >= days_of(year + 1, 1, 1))
        year++;
    while (month < 12 && days >= days_of(year, month + 1, 1))
        month++;
    int64_t day = days - days_of(year, month, 1) + 1;
    textbuf_printf(b, "%04lld-%02lld-%02lld", (long long)year, (long long)month, (long long)day);
    return ERR_OK;
}

/* ".f" to ".fffffffff" and more at *p, which is moved past it; 0 where there is no point. Decimals
 * past the ninth are cut off. */
static int nanos_at(const char **p, int32_t *nanos) {
    *nanos = 0;
    if (**p != '.')
        return ERR_OK;
    ++*p;
    if (**p < '0' || **p > '9')
        return ERR_SYNTAX;
    for (int32_t place = 100000000; **p >= '0' && **p <= '9'; ++*p, place /= 10)
        *nanos += (**p - '0') * place;
    return ERR_OK;
}

/* "Z" or "+HH:MM" at *p, which is moved past it. In seconds. */
static int offset_at(const char **p, int64_t *offset) {
    char sign = *(*p)++;
    *offset = 0;
    if (sign == 'Z' || sign == 'z')
        return ERR_OK;
    if (sign != '+' && sign != '-')
        return ERR_SYNTAX;
    int64_t hours = digits(p, 2);
    if (hours < 0 || *(*p)++ != ':')
        return ERR_SYNTAX;
    int64_t minutes = digits(p, 2);
    if (minutes < 0)
        return ERR_SYNTAX;
    if (hours > 23 || minutes > 59)
        return ERR_RANGE;
    *offset = (sign == '-' ? -1 : 1) * (hours * 60 + minutes) * 60;
    return ERR_OK;
}

int instant_parse(const char *text, struct instant *out) {
    const char *p = text;
    int64_t days;
    int64_t offset;
    int32_t nanos;
    int err = date_at(&p, &days);
    if (err != ERR_OK)
        return err;
    if (*p != 'T' && *p != 't' && *p != ' ')
        return ERR_SYNTAX;
    p++;
    int64_t hours = digits(&p, 2);
    if (hours < 0 || *p++ != ':')
        return ERR_SYNTAX;
    int64_t minutes = digits(&p, 2);
    if (minutes < 0 || *p++ != ':')
        return ERR_SYNTAX;
    int64_t seconds = digits(&p, 2);
    if (seconds < 0)
        return ERR_SYNTAX;
    if ((err = nanos_at(&p, &nanos)) != ERR_OK || (err = offset_at(&p, &offset)) != ERR_OK)
        return err;
    if (*p != '\0')
        return ERR_SYNTAX;
    /* RFC 3339 allows second 60 for a leap second; it is the same instant as the next second. */
    if (hours > 23 || minutes > 59 || seconds > 60)
        return ERR_RANGE;
    out->seconds = days * 86400 + (hours * 60 + minutes) * 60 + seconds - offset;
    out->nanos = nanos;
    return ERR_OK;
}

int instant_compare(struct instant a, struct instant b) {
    if (a.seconds != b.seconds)
        return a.seconds < b.seconds ? -1 : 1;
    return (a.nanos > b.nanos) - (a.nanos < b.nanos);
}
