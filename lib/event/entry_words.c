/* SPDX-License-Identifier: MIT */
#include "event/entry_words.h"

#include "output/output.h"

void entry_crew_words(struct textbuf *b, const struct entry *e) {
    textbuf_puts(b, e->driver);
    if (*e->navigator != '\0') {
        textbuf_puts(b, " / ");
        textbuf_puts(b, e->navigator);
    }
}

void entry_vehicle_words(struct textbuf *b, const struct entry *e) {
    textbuf_puts(b, e->make);
    if (*e->make != '\0' && *e->model != '\0')
        textbuf_putc(b, ' ');
    textbuf_puts(b, e->model);
}

void entry_crew_json(struct textbuf *b, const struct entry *e) {
    textbuf_puts(b, "\"crew\":[");
    json_write_text(b, e->driver);
    if (*e->navigator != '\0') {
        textbuf_putc(b, ',');
        json_write_text(b, e->navigator);
    }
    textbuf_putc(b, ']');
}

void entry_vehicle_json(struct textbuf *b, const struct entry *e) {
    struct textbuf vehicle = {0};
    entry_vehicle_words(&vehicle, e);
    textbuf_puts(b, "\"vehicle\":");
    json_write_text(b, textbuf_text(&vehicle));
    textbuf_printf(b, ",\"year\":%d", e->year);
    b->failed = b->failed || vehicle.failed;
    textbuf_clear(&vehicle);
}
