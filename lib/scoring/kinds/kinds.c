/* SPDX-License-Identifier: MIT */
#include "event/kind.h"

#include <string.h>

#include "base/err.h"

static const struct kind *const kinds[KIND_COUNT] = {
    [KIND_TIME_CONTROL] = &kind_time_control, [KIND_PASSAGE_CONTROL] = &kind_passage_control,
    [KIND_REGULARITY] = &kind_regularity,     [KIND_SET_TIME] = &kind_set_time,
    [KIND_SPECIAL_TEST] = &kind_special_test, [KIND_CONSISTENCY] = &kind_consistency,
};

const struct kind *kind_of(enum kind_id id) {
    return kinds[id];
}

const char *kind_refusal(const struct item *item, const struct point *point,
                         const struct reading *reading) {
    const struct kind *kind = kinds[item->kind];
    return kind->refusal == NULL ? NULL : kind->refusal(item, point, reading);
}

const char *kind_name(enum kind_id kind) {
    return kinds[kind]->name;
}

int kind_parse(const char *name, enum kind_id *out) {
    for (int i = 0; i < KIND_COUNT; i++) {
        if (strcmp(kinds[i]->name, name) == 0) {
            *out = (enum kind_id)i;
            return ERR_OK;
        }
    }
    return ERR_UNKNOWN;
}
