/* SPDX-License-Identifier: MIT */
#include "office/event_doubt.h"

#include <string.h>

#include "base/problem.h"
#include "base/textbuf.h"

/* True where the same was told of the item's own values: a line of `for` that does not change them
 * has it, too, and its place would be of a value that is not there. What a check says of an item
 * and of its lines stands together. */
static bool is_told_of_item(const struct problems *problems, const char *place, const char *text) {
    const char *line = strstr(place, ".for[");
    if (line == NULL)
        return false;
    size_t item = (size_t)(line - place);
    const char *part = strchr(line, ']') + 1;
    for (size_t i = problems->count; i-- > 0;) {
        const struct problem *p = &problems->list[i];
        if (strncmp(p->place, place, item) != 0)
            return false;
        if (strcmp(p->place + item, part) == 0 && strcmp(p->text, text) == 0)
            return true;
    }
    return false;
}

/* Adds the doubt at a place of which all but the part is written. */
static void add(struct problems *problems, struct textbuf *place, const char *part,
                const char *text) {
    textbuf_puts(place, part);
    if (!place->failed && !is_told_of_item(problems, textbuf_text(place), text))
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
