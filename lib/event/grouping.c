/* SPDX-License-Identifier: MIT */
#include "event/grouping.h"

#include <string.h>

#include "base/err.h"

static const char *const words[BY_COUNT] = {"overall", "class", "category", "day", "test", "team"};

const char *by_word(enum standings_by by) {
    return words[by];
}

int by_parse(const char *text, enum standings_by *out) {
    for (int i = 0; i < BY_COUNT; i++) {
        if (strcmp(words[i], text) == 0) {
            *out = (enum standings_by)i;
            return ERR_OK;
        }
    }
    return ERR_UNKNOWN;
}
