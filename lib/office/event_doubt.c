/* SPDX-License-Identifier: MIT */
#include "office/event_doubt.h"

#include "base/problem.h"
#include "base/textbuf.h"

/* Adds the doubt at a place of which all but the part is written. */
static void add(struct problems *problems, struct textbuf *place, const char *part,
                const char *text) {
    textbuf_puts(place, part);
    problems_add_at(problems, PROBLEM_DOUBT, textbuf_text(place), text);
    problems->out_of_memory = problems->out_of_memory || place->failed;
    textbuf_clear(place);
}

void event_doubt_at(struct problems *problems, struct value_place at, const char *part,
                    const char *text) {
    struct textbuf place = {0};
    textbuf_printf(&place, "event.json: route[%d]", at.item);
    if (at.line >= 0)
        textbuf_printf(&place, ".for[%d]", at.line);
    add(problems, &place, part, text);
}

void event_doubt(struct problems *problems, const char *key, int index, const char *part,
                 const char *text) {
    struct textbuf place = {0};
    textbuf_printf(&place, "event.json: %s", key);
    if (index >= 0)
        textbuf_printf(&place, "[%d]", index);
    add(problems, &place, part, text);
}
