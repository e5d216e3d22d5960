/* SPDX-License-Identifier: MIT */
#include "format/nmea.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/times.h"

enum { FIELDS_MAX = 24, DATE_SIZE = 16 };

static int hex_digit(char c) {
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/* The sentence without its "$" and sum, which is the exclusive or of all bytes between them. */
static int take_body(const char *line, char body[NMEA_LENGTH_MAX + 1]) {
    size_t len = strcspn(line, "\r\n");
    if (line[0] != '$' || len > NMEA_LENGTH_MAX || len < 4 || line[len - 3] != '*')
        return ERR_SYNTAX;
    int high = hex_digit(line[len - 2]);
    int low = hex_digit(line[len - 1]);
    if (high < 0 || low < 0)
        return ERR_SYNTAX;
    int sum = 0;
    size_t used = len - 4;
    for (size_t i = 0; i < used; i++)
        sum ^= (unsigned char)line[1 + i];
    memcpy(body, line + 1, used);
    body[used] = '\0';
    return sum == high * 16 + low ? ERR_OK : ERR_CONFLICT;
}

/* Cuts a body at its commas. Returns: how many fields there are, of which the first FIELDS_MAX are
 * in `fields`; empty ones count. */
static int split(char *body, const char *fields[FIELDS_MAX]) {
    int count = 0;
    char *at = body;
    while (count < FIELDS_MAX) {
        fields[count++] = at;
        char *comma = strchr(at, ',');
        if (comma == NULL)
            break;
        *comma = '\0';
        at = comma + 1;
    }
    return count;
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/* Two digits, in a text that has at least two bytes left. */
static int pair(const char *text) {
    return is_digit(text[0]) && is_digit(text[1]) ? (text[0] - '0') * 10 + text[1] - '0' : -1;
}

/* hhmmss with any decimals, in milliseconds. */
static int read_clock(const char *text, int64_t *out) {
    size_t len = strlen(text);
    if (len < 6 || strspn(text, "0123456789") < 6)
        return ERR_SYNTAX;
    int hour = pair(text);
    int minute = pair(text + 2);
    int second = pair(text + 4);
    if (hour > 23 || minute > 59 || second > 59)
        return ERR_RANGE;
    int thousandths = 0;
    if (len > 6) {
        const char *places = text + 7;
        if (text[6] != '.' || strspn(places, "0123456789") != len - 7)
            return ERR_SYNTAX;
        for (int i = 0, size = 100; i < 3 && places[i] != '\0'; i++, size /= 10)
            thousandths += (places[i] - '0') * size;
    }
    *out = ((hour * INT64_C(60) + minute) * 60 + second) * 1000 + thousandths;
    return ERR_OK;
}

/* The instant of a day and a clock. */
static int join(int64_t year, int64_t month, int64_t day, const char *clock, int64_t *out) {
    char date[DATE_SIZE];
    (void)snprintf(date, sizeof date, "%04d-%02d-%02d", (int)year, (int)month, (int)day);
    int64_t days;
    int64_t ms;
    int err = read_clock(clock, &ms);
    if (err == ERR_OK)
        err = date_parse(date, &days);
    if (err == ERR_OK)
        *out = days * DAY_MS + ms;
    return err;
}

/* ZDA: time, day, month, year of four digits. */
static int read_zda(const char *const *fields, int count, struct nmea_time *out) {
    int64_t day;
    int64_t month;
    int64_t year;
    if (count < 5)
        return ERR_SYNTAX;
    if (fields[1][0] == '\0' || fields[4][0] == '\0')
        return ERR_UNKNOWN;
    if (decimal_parse_whole(fields[2], 1, 31, &day) != ERR_OK ||
        decimal_parse_whole(fields[3], 1, 12, &month) != ERR_OK ||
        decimal_parse_whole(fields[4], 1980, 9999, &year) != ERR_OK)
        return ERR_RANGE;
    out->fix = NMEA_FIX_UNTOLD;
    return join(year, month, day, fields[1], &out->ms);
}

/* RMC: time, status, four fields of the place, speed, course, ddmmyy. */
static int read_rmc(const char *const *fields, int count, struct nmea_time *out) {
    if (count < 10)
        return ERR_SYNTAX;
    const char *date = fields[9];
    if (fields[1][0] == '\0' || date[0] == '\0')
        return ERR_UNKNOWN;
    if (strlen(date) != 6 || strspn(date, "0123456789") != 6)
        return ERR_SYNTAX;
    int year = pair(date + 4);
    out->fix = strcmp(fields[2], "A") == 0 ? NMEA_FIX_GOOD : NMEA_FIX_NONE;
    return join(year < 80 ? 2000 + year : 1900 + year, pair(date + 2), pair(date), fields[1],
                &out->ms);
}

int nmea_read(const char *line, struct nmea_time *out) {
    char body[NMEA_LENGTH_MAX + 1];
    int err = take_body(line, body);
    if (err != ERR_OK)
        return err;
    const char *fields[FIELDS_MAX];
    int count = split(body, fields);
    struct nmea_time read;
    // "GPZDA": two letters of the talker, three of the sentence.
    if (strlen(fields[0]) != 5)
        return ERR_UNKNOWN;
    if (strcmp(fields[0] + 2, "ZDA") == 0)
        err = read_zda(fields, count, &read);
    else if (strcmp(fields[0] + 2, "RMC") == 0)
        err = read_rmc(fields, count, &read);
    else
        return ERR_UNKNOWN;
    if (err == ERR_OK)
        *out = read;
    return err;
}
