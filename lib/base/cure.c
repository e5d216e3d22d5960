/* SPDX-License-Identifier: MIT */
#include "base/cure.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "base/err.h"

/* Copies a text with `to` for each of `from`, without blanks and the marks of thousands, and with a
 * 0 before a lone digit of hours or before a bare point. False where there is no room. */
static bool rewrite(const char *text, const char *from, char to, char out[CURED_MAX]) {
    size_t len = 0;
    for (; *text != '\0'; text++) {
        if (*text == ' ' || *text == '\'')
            continue;
        if (len + 2 >= CURED_MAX)
            return false;
        out[len++] = strchr(from, *text) != NULL ? to : *text;
        if ((len == 1 && out[0] == '.') || (len == 2 && out[1] == ':')) {
            memmove(out + 1, out, len++);
            out[0] = '0';
        }
    }
    out[len] = '\0';
    return true;
}

const char *cure_of(struct cure *room, const char *text, int (*parse)(const char *, int64_t *)) {
    char cured[CURED_MAX];
    int64_t value;
    room->text[0] = '\0';
    /* A comma is a point first: where that gives a value, nothing else was meant. */
    if ((rewrite(text, ",", '.', cured) && parse(cured, &value) == ERR_OK) ||
        (rewrite(text, ".,hH", ':', cured) && parse(cured, &value) == ERR_OK))
        (void)snprintf(room->text, sizeof room->text, "; write %s", cured);
    return room->text;
}
