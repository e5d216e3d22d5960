/* SPDX-License-Identifier: MIT */
/* Doubts as JSON. */
#include "office/doubts.h"

#include "event/entry_words.h"
#include "output/output.h"

static void write_field(struct textbuf *b, const char *name, const char *value) {
    if (*value == '\0')
        return;
    textbuf_printf(b, ",\"%s\":", name);
    json_write_text(b, value);
}

static void write_reading(struct textbuf *b, const struct doubt *doubt,
                          const struct reading *reading) {
    static const enum reading_field fields[] = {READING_TIME, READING_ELAPSED, READING_FAULTS,
                                                READING_AT, READING_BY};
    textbuf_puts(b, "{\"id\":");
    json_write_text(b, reading->id);
    textbuf_printf(b, ",\"counts\":%s",
                   reading == doubt->reading && doubt->kind != DOUBT_OUT ? "true" : "false");
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++)
        write_field(b, reading_field_names[fields[i]], reading->text.field[fields[i]]);
    textbuf_puts(b, ",\"extra\":{");
    for (const struct extra *e = reading->text.extras; e != NULL; e = e->next) {
        textbuf_puts(b, e == reading->text.extras ? "" : ",");
        json_write_text(b, e->name);
        textbuf_putc(b, ':');
        json_write_text(b, e->value);
    }
    textbuf_puts(b, "}}");
}

/* Those of the point that nothing replaces, the latest first; the one that counts has its room
 * kept. Returns how many there are, told or not. */
static int write_evidence(struct textbuf *b, const struct event *event, const struct doubt *doubt) {
    const char *sep = "";
    const struct readings_view readings = event->readings;
    int count = 0;
    int others = 0;
    for (int i = readings_latest(readings, doubt->car, doubt->point); i >= 0;
         i = readings_before(readings, i)) {
        const struct reading *reading = readings_view_at(readings, i);
        if (reading->is_void || reading_is_replaced(readings, reading))
            continue;
        count++;
        if (reading == doubt->reading || others++ < DOUBT_READINGS_TOLD - 1) {
            textbuf_puts(b, sep);
            write_reading(b, doubt, reading);
            sep = ",";
        }
    }
    return count;
}

void doubts_write_json(struct textbuf *b, const struct doubts *doubts) {
    const struct event *event = doubts->scores->event;
    const char *sep = "\n";
    textbuf_putc(b, '[');
    for (int i = 0; i < doubts->weighed; i++) {
        const struct doubt *doubt = &doubts->list[i];
        const struct entry *e = &event->entries->list[doubt->car];
        textbuf_printf(b, "%s{\"id\":\"%s\",\"kind\":\"%s\",\"car\":%d,", sep, doubt->id,
                       doubt_word(doubt->kind), e->number);
        sep = ",\n";
        entry_crew_json(b, e);
        textbuf_puts(b, ",\"point\":");
        json_write_text(b, event->rules->points[doubt->point].id);
        textbuf_puts(b, ",\"against\":");
        if (doubt->against < 0)
            textbuf_puts(b, "null");
        else
            json_write_text(b, event->rules->points[doubt->against].id);
        textbuf_puts(b, ",\"why\":");
        json_write_text(b, doubt->why);
        textbuf_printf(b, ",\"open\":%s,\"ruled\":%s,\"readings\":[",
                       doubt_is_open(doubt) ? "true" : "false", doubt->ruled ? "true" : "false");
        int count = write_evidence(b, event, doubt);
        textbuf_printf(b, "],\"readings_count\":%d,\"said\":%d,\"places\":%d,\"moves\":", count,
                       readings_said(event->readings, doubt->car, doubt->point), doubt->places);
        effect_write_json(b, &doubt->effect);
        textbuf_putc(b, '}');
    }
    textbuf_putc(b, ']');
}
