/* SPDX-License-Identifier: MIT */
#include "base/cure.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/times.h"

typedef int parser(const char *text, int64_t *out);

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/* True for the mark at p in “1'200” and “1 200,5”: three digits behind it, and one before. */
static bool parts_thousands(const char *text, const char *p) {
    return (*p == ' ' || *p == '\'') && p > text && is_digit(p[-1]) &&
           strspn(p + 1, "0123456789") == 3;
}

/* Copies a text with `to` for each of `from`, and without blanks around it. False where there is no
 * room. */
static bool rewrite(const char *text, const char *from, char to, bool thousands,
                    char out[CURED_MAX]) {
    size_t len = 0;
    out[0] = '\0';
    text += strspn(text, " ");
    for (const char *p = text; *p != '\0'; p++) {
        if (thousands && parts_thousands(text, p))
            continue;
        if (len + 1 == CURED_MAX) {
            out[0] = '\0';
            return false;
        }
        out[len] = *p;
        if (strchr(from, *p) != NULL)
            out[len] = to;
        len++;
    }
    while (len > 0 && out[len - 1] == ' ')
        len--;
    out[len] = '\0';
    return true;
}

/* Puts a 0 before a text whose character at that place is the mark. */
static void pad(char cured[CURED_MAX], char mark, size_t at) {
    size_t len = strlen(cured);
    if (len <= at || cured[at] != mark || len + 2 > CURED_MAX)
        return;
    memmove(cured + 1, cured, len + 1);
    cured[0] = '0';
}

static const char *tell(struct cure *room, const char *cured, parser *parse) {
    int64_t value;
    room->text[0] = '\0';
    if (parse(cured, &value) == ERR_OK)
        (void)snprintf(room->text, sizeof room->text, "; write %s", cured);
    return room->text;
}

const char *cure_number(struct cure *room, const char *text) {
    char cured[CURED_MAX] = "";
    if (rewrite(text, ",", '.', true, cured))
        pad(cured, '.', 0);
    return tell(room, cured, decimal_parse);
}

const char *cure_duration(struct cure *room, const char *text) {
    char cured[CURED_MAX];
    (void)rewrite(text, ",", '.', false, cured);
    return tell(room, cured, duration_parse);
}

const char *cure_time(struct cure *room, const char *text) {
    char cured[CURED_MAX] = "";
    if (rewrite(text, ",", '.', false, cured))
        pad(cured, ':', 1);
    if (*tell(room, cured, time_parse) == '\0' && rewrite(text, ".,hH", ':', false, cured)) {
        pad(cured, ':', 1);
        return tell(room, cured, time_parse);
    }
    return room->text;
}
