/* SPDX-License-Identifier: MIT */
#include "remote/device_form.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "format/extra.h"

int device_form_take_columns(struct device_form *form, const char *value, struct textbuf *why) {
    textbuf_puts(why, ": ");
    return column_map_parse_places(&form->map, value, why);
}

int device_form_take_channel(struct device_form *form, const char *value, struct textbuf *why) {
    const char *equals = strchr(value, '=');
    if (equals == NULL || equals == value || equals[1] == '\0') {
        textbuf_printf(why, ": “%s” is not written as CHANNEL=POINT, such as C1=T1/1", value);
        return ERR_INPUT;
    }
    if (form->channel_count == DEVICE_CHANNELS_MAX) {
        textbuf_printf(why, " is told more than %d times", DEVICE_CHANNELS_MAX);
        return ERR_INPUT;
    }
    size_t len = (size_t)(equals - value);
    for (int i = 0; i < form->channel_count; i++) {
        if (strlen(form->channel[i].channel) == len &&
            memcmp(form->channel[i].channel, value, len) == 0) {
            textbuf_printf(why, " is told twice of “%s”", form->channel[i].channel);
            return ERR_INPUT;
        }
    }
    struct device_channel channel = {strndup(value, len), strdup(equals + 1)};
    if (channel.channel == NULL || channel.point == NULL) {
        free(channel.channel);
        free(channel.point);
        return ERR_NOMEM;
    }
    form->channel[form->channel_count++] = channel;
    return ERR_OK;
}

int device_form_take_mark(struct device_form *form, const char *value, struct textbuf *why) {
    return clock_marks_add(&form->marks, value, why);
}

int device_form_take_date(struct device_form *form, const char *value, struct textbuf *why) {
    if (date_parse(value, &form->time.day) == ERR_OK)
        return ERR_OK;
    textbuf_puts(why, " is no date, such as 2027-05-20");
    return ERR_INPUT;
}

int device_form_take_offset(struct device_form *form, const char *value, struct textbuf *why) {
    if (device_offset_read(value, &form->time.offset) == ERR_OK)
        return ERR_OK;
    textbuf_puts(why, " is not written as +HH:MM, -HH:MM or Z");
    return ERR_INPUT;
}

/* Puts an extra in front, unless the row has one of that name. */
static int put_extra(struct arena *arena, struct reading_text *text, const char *name,
                     const char *value) {
    if (*extra_value(text->extras, name) != '\0')
        return ERR_OK;
    struct extra *extra = arena_alloc(arena, sizeof *extra);
    char *copy = arena_text(arena, value, strlen(value));
    if (extra == NULL || copy == NULL)
        return ERR_NOMEM;
    *extra = (struct extra){name, copy, text->extras};
    text->extras = extra;
    return ERR_OK;
}

static int take_channel(const struct device_form *form, struct arena *arena, const char *channel,
                        struct reading_text *text, struct textbuf *reason) {
    if (*channel == '\0')
        return ERR_OK;
    for (int i = 0; i < form->channel_count; i++) {
        if (strcmp(form->channel[i].channel, channel) != 0)
            continue;
        char *point = arena_text(arena, form->channel[i].point, strlen(form->channel[i].point));
        if (point == NULL)
            return ERR_NOMEM;
        text->field[READING_POINT] = point;
        return put_extra(arena, text, "channel", channel);
    }
    textbuf_printf(reason, "channel “%s” stands at no point: tell it with --channel", channel);
    return ERR_INPUT;
}

/* Writes a time into a field of the row. */
static int write_field(struct arena *arena, struct reading_text *text, int field, int64_t ms) {
    struct textbuf b = {0};
    time_write(&b, ms, 0);
    char *copy = b.failed ? NULL : arena_text(arena, b.bytes, b.len);
    textbuf_clear(&b);
    if (copy == NULL)
        return ERR_NOMEM;
    text->field[field] = copy;
    return ERR_OK;
}

/* The event's time for the device's `ms`; as written where both are one. */
static int take_marks(const struct device_form *form, struct arena *arena, int64_t ms, int64_t unit,
                      struct reading_text *text, struct textbuf *reason) {
    char number[24];
    int64_t uncertainty;
    const char *written = text->field[READING_TIME];
    int64_t at = clock_marks_event(&form->marks, ms, &uncertainty);
    if (at < 0 || at >= INT64_C(2) * DAY_MS) {
        textbuf_printf(reason, "time “%s” is on another day by the event's clock", written);
        return ERR_INPUT;
    }
    (void)snprintf(number, sizeof number, "%" PRId64, uncertainty + unit);
    int err = put_extra(arena, text, "device_time", written);
    if (err == ERR_OK)
        err = put_extra(arena, text, "uncertainty_ms", number);
    return err == ERR_OK ? write_field(arena, text, READING_TIME, at) : err;
}

static int take_time(const struct device_form *form, struct arena *arena, struct reading_text *text,
                     struct textbuf *reason) {
    const char *written = text->field[READING_TIME];
    struct device_time_form how = form->time;
    int64_t ms;
    int64_t unit;
    int64_t same;
    if (*written == '\0')
        return ERR_OK;
    how.kind = (enum device_time_kind)form->kind;
    int err = device_time_read(written, &how, &ms, &unit, reason);
    if (err != ERR_OK && how.kind != DEVICE_TIME_ANY && err != ERR_INPUT) {
        textbuf_printf(reason, "time “%s” is not written as %s", written,
                       device_time_kinds[how.kind]);
        return ERR_INPUT;
    }
    if (err != ERR_OK)
        return err == ERR_INPUT ? ERR_INPUT : ERR_OK;
    if (form->marks.count > 0)
        return take_marks(form, arena, ms, unit, text, reason);
    if (form->marked_doubtful && put_extra(arena, text, "flags", "clock-unverified") != ERR_OK)
        return ERR_NOMEM;
    if (time_parse(written, &same) == ERR_OK && same == ms)
        return ERR_OK;
    return write_field(arena, text, READING_TIME, ms);
}

static int take_elapsed(struct arena *arena, struct reading_text *text, struct textbuf *reason) {
    const char *written = text->field[READING_ELAPSED];
    int64_t ms;
    int64_t same;
    if (*written == '\0' || duration_parse(written, &same) == ERR_OK)
        return ERR_OK;
    int err = device_duration_read(written, &ms, reason);
    if (err != ERR_OK)
        return err == ERR_INPUT ? ERR_INPUT : ERR_OK;
    return write_field(arena, text, READING_ELAPSED, ms);
}

int device_form_apply(const struct device_form *form, struct arena *arena, const char *channel,
                      struct reading_text *text, struct textbuf *reason) {
    int err = take_channel(form, arena, channel, text, reason);
    if (err == ERR_OK)
        err = take_time(form, arena, text, reason);
    if (err == ERR_OK)
        err = take_elapsed(arena, text, reason);
    if (err == ERR_OK && form->desk != NULL)
        err = put_extra(arena, text, "desk", form->desk);
    return err;
}

void device_form_clear(struct device_form *form) {
    column_map_clear(&form->map);
    for (int i = 0; i < form->channel_count; i++) {
        free(form->channel[i].channel);
        free(form->channel[i].point);
    }
    *form = (struct device_form)DEVICE_FORM_DEFAULTS;
}
