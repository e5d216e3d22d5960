/* SPDX-License-Identifier: MIT */
/* The codes of crews: one strip each, to cut off and hand out. */
#include <string.h>

#include "base/textbuf.h"
#include "paper/contents.h"

/* Height of a strip, in points. */
enum { STRIP_HEIGHT = 54 };

void contents_codes(struct paper_doc *doc, const json_t *answer, const char *cards) {
    static const struct paper_column columns[] = {
        {.head = "Car", .right = true, .large = true, .width = 28},
        {.head = "Crew", .share = 3},
        {.head = "Code", .box = true, .large = true, .width = 92},
        {.head = "What it is for", .share = 5}};
    struct textbuf how = {0};
    size_t i;
    const json_t *row;
    paper_text(doc, "Cut between the rows; each crew gets its own strip and no other. Who has a "
                    "code can ask in that crew's name and read the answers.");
    paper_table(doc, columns, sizeof columns / sizeof columns[0], STRIP_HEIGHT);
    json_array_foreach(json_object_get(answer, "codes"), i, row) {
        contents_cell(doc, row, "car");
        contents_crew_cell(doc, row);
        contents_cell(doc, row, "code");
        textbuf_reset(&how);
        textbuf_puts(&how, "Ask the office about your card, and read its answer, with this code");
        if (*cards != '\0')
            textbuf_printf(&how, ": %s%lld", cards,
                           (long long)json_integer_value(json_object_get(row, "car")));
        textbuf_puts(&how, ". Or ask on paper. Show it to nobody. Never write while you drive.");
        paper_cell(doc, textbuf_text(&how));
    }
    textbuf_clear(&how);
}
