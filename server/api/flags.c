/* SPDX-License-Identifier: MIT */
/* The readings that a desk has put a flag on. */
#include "api/api.h"

#include <string.h>

#include "api/event_object.h"
#include "base/decimal.h"
#include "base/err.h"
#include "format/extra.h"
#include "format/json_write.h"
#include "http/request.h"

/* Words with spaces between them, as a list. */
static void write_flags(struct textbuf *b, const char *words) {
    json_member_array(b, "flags");
    while (*(words += strspn(words, " ")) != '\0') {
        size_t len = strcspn(words, " ");
        size_t from = json_open_text(b);
        textbuf_add(b, words, len);
        json_close_text(b, from);
        words += len;
    }
    json_close_array(b);
}

/* A time without a number has no `car`. */
static void write_flagged(struct textbuf *b, const struct event *event,
                          const struct reading *reading, const char *flags) {
    const char *const *field = reading->text.field;
    const struct extra *extras = reading->text.extras;
    int64_t number = 0;
    json_open_object(b);
    json_member_text(b, "reading", reading->id);
    json_member_text(b, "point", field[READING_POINT]);
    if (decimal_parse_whole(field[READING_CAR], 1, NUMBER_MAX, &number) == ERR_OK)
        json_member_int(b, "car", number);
    json_member_text(b, "time", field[READING_TIME]);
    json_member_text(b, "elapsed", field[READING_ELAPSED]);
    json_member_text(b, "faults", field[READING_FAULTS]);
    json_member_text(b, "desk", extra_value(extras, "desk"));
    json_member_text(b, "seq", extra_value(extras, "seq"));
    json_member_text(b, "by", field[READING_BY]);
    json_member_text(b, "at", field[READING_AT]);
    write_flags(b, flags);
    json_member_text(b, "note", extra_value(extras, "note"));
    json_member_bool(b, "replaced", reading_is_replaced(event->readings, reading));
    json_close_object(b);
}

unsigned api_flags(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    event_object_open(r, b);
    json_member_array(b, "flags");
    for (int i = event->readings.count - 1; i >= 0; i--) {
        const struct reading *reading = readings_view_at(event->readings, i);
        const char *flags = extra_value(reading->text.extras, "flags");
        if (*flags == '\0')
            continue;
        json_line(b);
        write_flagged(b, event, reading, flags);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}
