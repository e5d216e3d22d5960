/* SPDX-License-Identifier: MIT */
#include "event/entry_words.h"

#include "base/textbuf.h"
#include "format/json_write.h"

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
    json_member_array(b, "crew");
    json_write_text(b, e->driver);
    if (*e->navigator != '\0')
        json_write_text(b, e->navigator);
    json_close_array(b);
}

void entry_vehicle_json(struct textbuf *b, const struct entry *e) {
    json_key(b, "vehicle");
    size_t from = json_open_text(b);
    entry_vehicle_words(b, e);
    json_close_text(b, from);
    json_member_int(b, "year", e->year);
}

void entry_class_json(struct textbuf *b, const struct rules *rules, int class_index) {
    json_key(b, "class");
    size_t from = json_open_text(b);
    rules_class_id(rules, class_index, b);
    json_close_text(b, from);
}
