/* SPDX-License-Identifier: MIT */
#include "office/unassigned.h"

bool unassigned_waits(struct readings_view view, const struct reading *reading) {
    return (reading->aside == ASIDE_UNKNOWN_CAR || reading->aside == ASIDE_NO_CAR) &&
           !reading->is_void && !reading_is_replaced(view, reading);
}

int unassigned_said(struct readings_view view, const struct reading *reading) {
    return reading_is_replaced(view, reading) ? 2 : 1;
}

int unassigned_count(struct readings_view view) {
    int count = 0;
    for (int i = readings_latest_aside(view); i >= 0; i = readings_before(view, i))
        count += unassigned_waits(view, readings_view_at(view, i));
    return count;
}
