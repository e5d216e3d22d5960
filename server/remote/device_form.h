/* SPDX-License-Identifier: MIT */
/* device_form.h - how a timing device writes: its times, its clock, its channels, its letters.
 * The options that say so, for every command that takes a device's lines, and what they make of a
 * row's fields. */
#ifndef CAIRN_DEVICE_FORM_H
#define CAIRN_DEVICE_FORM_H

#include <stdbool.h>

#include "event/readings.h"
#include "format/clock_marks.h"
#include "format/device_time.h"
#include "remote/column_map.h"
#include "system/text_encoding.h"

struct arena;
struct textbuf;

enum { DEVICE_CHANNELS_MAX = 64 };

/* One channel of the device and the point that it stands at; both the form's own. */
struct device_channel {
    char *channel;
    char *point;
};

/* A plain value, set up by DEVICE_FORM_DEFAULTS; device_form_clear frees it. */
struct device_form {
    struct column_map map;
    struct device_time_form time;
    int kind;     /* enum device_time_kind, as the command line gives it */
    int encoding; /* enum text_encoding */
    struct clock_marks marks;
    struct device_channel channel[DEVICE_CHANNELS_MAX];
    int channel_count;
    bool marked_doubtful; /* rows of a clock without a mark get the flag clock-unverified */
    const char *desk;     /* whose rows need no car: eight hex digits; NULL: all need one */
};

#define DEVICE_FORM_DEFAULTS                                                                       \
    {                                                                                              \
        .time = {.day = TIME_NONE, .offset = TIME_NONE }                                           \
    }

/* What `take` of an option row does, `options` being the form itself. As for option_row. */
int device_form_take_columns(struct device_form *form, const char *value, struct textbuf *why);
int device_form_take_channel(struct device_form *form, const char *value, struct textbuf *why);
int device_form_take_mark(struct device_form *form, const char *value, struct textbuf *why);
int device_form_take_date(struct device_form *form, const char *value, struct textbuf *why);
int device_form_take_offset(struct device_form *form, const char *value, struct textbuf *why);

/* Makes of a device's row what a reading is: the point of its channel, its time in the event's
 * clock. What was written stays beside it (extras channel, device_time, uncertainty_ms).
 *   channel  the row's, "" where there is none
 *   reason   gets what is wrong
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. A time in none of the forms is left as it is: whoever
 * checks the reading says how one is written. */
int device_form_apply(const struct device_form *form, struct arena *arena, const char *channel,
                      struct reading_text *text, struct textbuf *reason);

/* Frees what it owns and makes it empty. */
void device_form_clear(struct device_form *form);

#endif
