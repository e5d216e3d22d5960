/* SPDX-License-Identifier: MIT */
#include "live/row_refusal.h"

const char *row_refusal_word(enum row_refusal refusal) {
    static const char *const words[ROW_REFUSAL_COUNT] = {
        [ROW_UNREADABLE] = "unreadable",       [ROW_NOT_THIS_KEYS] = "not-this-keys",
        [ROW_UNKNOWN_POINT] = "unknown-point", [ROW_UNKNOWN_CAR] = "unknown-car",
        [ROW_ID_TAKEN] = "id-taken",           [ROW_VALUE] = "value",
    };
    return words[refusal];
}
