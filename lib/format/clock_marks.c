/* SPDX-License-Identifier: MIT */
#include "format/clock_marks.h"

#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "format/device_time.h"

enum { MILLION = 1000000, DRIFT_MAX = 1000, MARK_LEN = 64 };

static int64_t distance(int64_t a, int64_t b) {
    return a < b ? b - a : a - b;
}

static bool read_side(const char *text, int64_t *ms, int64_t *unit) {
    struct device_time_form form = {.day = TIME_NONE, .offset = TIME_NONE};
    struct textbuf unused = {0};
    if (strpbrk(text, ":") == NULL && strspn(text, "0123456789") != 6)
        form.kind = DEVICE_TIME_SECONDS;
    int err = device_time_read(text, &form, ms, unit, &unused);
    textbuf_clear(&unused);
    return err == ERR_OK;
}

/* DEVICE=EVENT into a mark. */
static bool read_mark(const char *text, struct clock_mark *mark) {
    char device[MARK_LEN];
    const char *equals = strchr(text, '=');
    int64_t unit;
    if (equals == NULL || (size_t)(equals - text) >= sizeof device)
        return false;
    memcpy(device, text, (size_t)(equals - text));
    device[equals - text] = '\0';
    if (!read_side(device, &mark->device, &mark->unit) ||
        !read_side(equals + 1, &mark->event, &unit))
        return false;
    if (unit > mark->unit)
        mark->unit = unit;
    return true;
}

int clock_marks_add(struct clock_marks *marks, const char *text, struct textbuf *why) {
    struct clock_mark mark;
    if (marks->count == CLOCK_MARKS_MAX) {
        textbuf_puts(why, " is told more than twice");
        return ERR_INPUT;
    }
    if (!read_mark(text, &mark)) {
        textbuf_printf(why, ": “%s” is not written as DEVICE=EVENT, such as 10:00:00=10:00:47.2",
                       text);
        return ERR_INPUT;
    }
    if (marks->count == 1) {
        int64_t on_device = mark.device - marks->mark[0].device;
        int64_t on_event = mark.event - marks->mark[0].event;
        int64_t apart = distance(on_device, on_event) - mark.unit - marks->mark[0].unit;
        if (on_device == 0 || on_event == 0) {
            textbuf_puts(why, " is told twice of one moment");
            return ERR_INPUT;
        }
        if (apart > distance(on_device, 0) / (MILLION / DRIFT_MAX)) {
            textbuf_puts(why, ": the two clocks do not go alike between the marks: one of the four "
                              "times is wrong, or a clock was set");
            return ERR_INPUT;
        }
    }
    marks->mark[marks->count++] = mark;
    return ERR_OK;
}

/* Rounded down, also below zero. `by` is greater than zero. */
static int64_t divide_down(int64_t value, int64_t by) {
    int64_t whole = value / by;
    return value % by < 0 ? whole - 1 : whole;
}

static int64_t divide_up(int64_t value, int64_t by) {
    return -divide_down(-value, by);
}

/* Between the marks each weighs in; beyond them both their errors are drawn out. */
static int64_t between(const struct clock_marks *marks, int64_t device, int64_t *uncertainty) {
    const struct clock_mark *a = &marks->mark[0];
    const struct clock_mark *b = &marks->mark[1];
    if (a->device > b->device) {
        a = b;
        b = &marks->mark[0];
    }
    int64_t span = b->device - a->device;
    int64_t beyond = device < a->device   ? a->device - device
                     : device > b->device ? device - b->device
                                          : 0;
    int64_t worst = a->unit > b->unit ? a->unit : b->unit;
    *uncertainty = worst + divide_up(beyond * (a->unit + b->unit), span) + 1;
    return a->event + divide_down((device - a->device) * (b->event - a->event), span);
}

int64_t clock_marks_event(const struct clock_marks *marks, int64_t device, int64_t *uncertainty) {
    *uncertainty = 0;
    if (marks->count == 0)
        return device;
    if (marks->count == 2)
        return between(marks, device, uncertainty);
    const struct clock_mark *mark = &marks->mark[0];
    *uncertainty =
        mark->unit + divide_up(distance(device, mark->device) * CLOCK_DRIFT_UNKNOWN, MILLION);
    return mark->event + device - mark->device;
}

int64_t clock_marks_drift(const struct clock_marks *marks) {
    if (marks->count < 2)
        return 0;
    int64_t on_device = marks->mark[1].device - marks->mark[0].device;
    int64_t on_event = marks->mark[1].event - marks->mark[0].event;
    return (on_device - on_event) * MILLION / on_event;
}
