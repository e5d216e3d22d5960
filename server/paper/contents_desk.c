/* SPDX-License-Identifier: MIT */
/* A timekeeper's sheet: the way to the desk, the three keys, and what to do when something is
 * wrong. */
#include "base/textbuf.h"
#include "paper/contents.h"

/* What a word of the catalogue says. */
static const char *say(const struct desk_sheet *sheet, const char *key) {
    return word(sheet->lang, key);
}

static void add_link(struct paper_doc *doc, const struct desk_sheet *sheet) {
    struct textbuf text = {0};
    textbuf_printf(&text, "%s\n%s\n\n%s", say(sheet, "sheet-open-how"), sheet->link,
                   say(sheet, sheet->holds_key ? "sheet-open-key" : "sheet-open-no-key"));
    paper_heading(doc, say(sheet, "sheet-open"));
    paper_code(doc, sheet->link, textbuf_text(&text));
    textbuf_clear(&text);
}

void contents_desk(struct paper_doc *doc, const struct desk_sheet *sheet) {
    static const char *const keys[][2] = {{"sheet-key-enter", "sheet-key-enter-does"},
                                          {"sheet-key-plus", "sheet-key-plus-does"},
                                          {"sheet-key-minus", "sheet-key-minus-does"}};
    static const char *const troubles[][2] = {{"sheet-no-line", "sheet-no-line-do"},
                                              {"sheet-clock", "sheet-clock-do"},
                                              {"sheet-number", "sheet-number-do"},
                                              {"sheet-unknown", "sheet-unknown-do"},
                                              {"sheet-dead", "sheet-dead-do"}};
    add_link(doc, sheet);
    paper_heading(doc, say(sheet, "sheet-keys"));
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        paper_pair(doc, say(sheet, keys[i][0]), say(sheet, keys[i][1]));
    paper_heading(doc, say(sheet, "sheet-troubles"));
    for (size_t i = 0; i < sizeof troubles / sizeof troubles[0]; i++)
        paper_pair(doc, say(sheet, troubles[i][0]), say(sheet, troubles[i][1]));
    paper_heading(doc, say(sheet, "sheet-office"));
    paper_pair(doc, say(sheet, "sheet-phone"),
               *sheet->phone != '\0' ? sheet->phone : "______________________________");
    paper_text(doc, say(sheet, "sheet-safety"));
}
