/* SPDX-License-Identifier: MIT */
#include "event/faults.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/problem.h"
#include "format/json_read.h"

void faults_read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, bool allow_maximum, struct item *item) {
    const json_t *faults = json_object_get(object, "faults");
    struct json_place here = {.up = place, .key = "faults"};
    if (faults == NULL)
        return;
    if (!json_is_object(faults) || json_object_size(faults) > PARTS_MAX) {
        json_wrong(reader, place, "faults", "must be an object of at most %d faults", PARTS_MAX);
        return;
    }
    item->faults = arena_array(reader->arena, json_object_size(faults), sizeof *item->faults);
    if (item->faults == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)faults, key, value) {
        struct fault_rule *fault = &item->faults[item->fault_count];
        if (!rule_id_is_good(key)) {
            json_wrong(reader, &here, key, "must be 1 to 32 of A-Z a-z 0-9 _ -");
            continue;
        }
        if (json_is_string(value) && strcmp(json_string_value(value), "maximum") == 0) {
            if (!allow_maximum)
                json_wrong(reader, &here, key, "no fault of this test can be “maximum”");
            else if (json_object_get(object, "maximum") == NULL)
                json_wrong(reader, &here, key, "“maximum” needs the test's “maximum” to be set");
            fault->maximum = true;
        } else if (!json_value_decimal(reader, value, &here, key, 0, DECIMAL_MAX,
                                       &fault->penalty)) {
            continue;
        }
        fault->name = arena_text(reader->arena, key, strlen(key));
        if (fault->name == NULL) {
            reader->problems->out_of_memory = true;
            return;
        }
        item->fault_count++;
    }
}

int64_t faults_cost(const struct item *item, const struct reading *reading) {
    int64_t sum = 0;
    for (int i = 0; reading != NULL && i < reading->fault_count; i++) {
        int64_t cost;
        if (__builtin_mul_overflow(item->faults[reading->faults[i].fault].penalty,
                                   (int64_t)reading->faults[i].count, &cost) ||
            cost > DECIMAL_MAX)
            cost = DECIMAL_MAX;
        sum += cost;
    }
    return sum;
}

bool faults_any(const struct reading *reading) {
    for (int i = 0; reading != NULL && i < reading->fault_count; i++) {
        if (reading->faults[i].count > 0)
            return true;
    }
    return false;
}

int faults_maximum(const struct item *item, const struct reading *reading) {
    for (int i = 0; reading != NULL && i < reading->fault_count; i++) {
        if (reading->faults[i].count > 0 && item->faults[reading->faults[i].fault].maximum)
            return reading->faults[i].fault;
    }
    return -1;
}
