/* SPDX-License-Identifier: MIT */
#include "event/grouping.h"

#include <string.h>

#include "base/err.h"

static const char *const words[BY_COUNT] = {"overall", "class", "category", "group",
                                            "day",     "test",  "team"};

const char *by_word(enum standings_by by) {
    return words[by];
}

const char *by_lacking(enum standings_by by) {
    switch (by) {
    case BY_CATEGORY:
        return "categories";
    case BY_GROUP:
        return "groups";
    case BY_TEAM:
        return "teams";
    default:
        return "";
    }
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
