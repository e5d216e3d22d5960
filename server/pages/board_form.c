/* SPDX-License-Identifier: MIT */
#include "pages/board_form.h"

#include <string.h>

#include "pages/board_table.h"
#include "system/html.h"

/* Hidden fields with the choices that a form keeps. */
static void keep_choices(struct page *p, const char *const *names) {
    for (; *names != NULL; names++) {
        const char *value = request_query(p->r, *names);
        if (value == NULL)
            continue;
        textbuf_printf(&p->m, "<input type=\"hidden\" name=\"%s\" value=\"", *names);
        html_text(&p->m, value);
        textbuf_puts(&p->m, "\">");
    }
}

void board_form_write_groupings(struct page *p, enum standings_by now) {
    static const char *const keys[BY_COUNT] = {"overall", "eras", "categories",
                                               "groups",  "days", "tests"};
    textbuf_puts(&p->m, "<nav class=\"choices\" aria-label=\"");
    say(p, "groupings");
    textbuf_puts(&p->m, "\">");
    for (int by = 0; by < BY_COUNT; by++) {
        if ((by == BY_CATEGORY && p->rules->category_count == 0) ||
            (by == BY_GROUP && p->rules->group_count == 0) ||
            (by == BY_TEAM && p->rules->scoring.team_count == 0))
            continue;
        textbuf_puts(&p->m, "<a ");
        if (by == BY_OVERALL)
            page_href(p, "%s", "");
        else
            page_href(p, "?by=%s", by_word((enum standings_by)by));
        textbuf_printf(&p->m, "%s>", by == (int)now ? " aria-current=\"true\"" : "");
        say(p, by == BY_TEAM ? board_table_teams_key(p) : keys[by]);
        textbuf_puts(&p->m, "</a> ");
    }
    textbuf_puts(&p->m, "</nav>\n");
}

static void write_after_choice(struct page *p, int after) {
    const struct rules *rules = p->rules;
    textbuf_puts(&p->m, "<label>");
    say(p, "stand-after");
    textbuf_puts(&p->m, " <select name=\"after\"><option value=\"\">");
    say(p, "as-usual");
    textbuf_puts(&p->m, "</option>");
    for (int i = 0; i < rules->item_count; i++) {
        if (p->r->results->view->hidden[i])
            continue;
        textbuf_printf(&p->m, "<option%s>%s</option>",
                       i == after && request_query(p->r, "after") != NULL ? " selected" : "",
                       rules->items[i].id);
    }
    textbuf_puts(&p->m, "</select></label> ");
}

static bool is_used(const struct page *p, int class_index) {
    for (int car = 0; car < p->event->entries->count; car++) {
        if (p->event->entries->list[car].class_index == class_index)
            return true;
    }
    return false;
}

static void write_era_choice(struct page *p) {
    const char *class_text = request_query(p->r, "class");
    struct textbuf *id = request_text(p->r);
    textbuf_puts(&p->m, "<label>");
    say(p, "era");
    textbuf_puts(&p->m, " <select name=\"class\"><option value=\"\">");
    say(p, "all");
    textbuf_puts(&p->m, "</option>");
    for (int c = 0; c < rules_class_count(p->rules); c++) {
        if (!is_used(p, c))
            continue;
        textbuf_reset(id);
        rules_class_id(p->rules, c, id);
        bool is_chosen = class_text != NULL && strcmp(class_text, textbuf_text(id)) == 0;
        textbuf_printf(&p->m, "<option%s>%s</option>", is_chosen ? " selected" : "",
                       textbuf_text(id));
    }
    textbuf_puts(&p->m, "</select></label> ");
}

/* How the page keeps itself up to date; without a script it does not, and these are not seen. */
static void write_buttons(struct page *p) {
    static const char *const buttons[][3] = {
        {"pause", "pause", "go-on"}, {"stream", "stream-on", "stream-off"}, {NULL, NULL, NULL}};
    textbuf_puts(&p->m, "<p class=\"live\" id=\"live\" hidden>");
    for (int i = 0; buttons[i][0] != NULL; i++) {
        textbuf_printf(&p->m, "<button type=\"button\" id=\"%s\" data-other=\"", buttons[i][0]);
        say(p, buttons[i][2]);
        textbuf_puts(&p->m, "\">");
        say(p, buttons[i][1]);
        textbuf_puts(&p->m, "</button> ");
    }
    textbuf_puts(&p->m, "</p>");
}

/* The same choices in a copy, where no server reads a form: a link each. */
static void write_choice_links(struct page *p, enum standings_by by) {
    struct textbuf *id = request_text(p->r);
    textbuf_puts(&p->m, "<p>");
    say(p, "era");
    textbuf_puts(&p->m, ": <a ");
    page_href(p, "?by=class");
    textbuf_putc(&p->m, '>');
    say(p, "all");
    textbuf_puts(&p->m, "</a>");
    for (int c = 0; c < rules_class_count(p->rules); c++) {
        if (!is_used(p, c))
            continue;
        textbuf_reset(id);
        rules_class_id(p->rules, c, id);
        textbuf_puts(&p->m, " <a ");
        page_href(p, "?class=%s", textbuf_text(id));
        textbuf_printf(&p->m, ">%s</a>", textbuf_text(id));
    }
    textbuf_puts(&p->m, "</p>\n<p>");
    say(p, "stand-after");
    textbuf_puts(&p->m, ": <a ");
    page_href(p, "?by=%s", by_word(by));
    textbuf_putc(&p->m, '>');
    say(p, "as-usual");
    textbuf_puts(&p->m, "</a>");
    for (int i = 0; i < p->rules->item_count; i++) {
        if (p->rules->items[i].test < 0 || p->r->results->view->hidden[i])
            continue;
        textbuf_puts(&p->m, " <a ");
        page_href(p, "?by=%s&after=%s", by_word(by), p->rules->items[i].id);
        textbuf_printf(&p->m, ">%s</a>", p->rules->items[i].id);
    }
    textbuf_puts(&p->m, "</p>\n");
}

/* In a copy a script does the finding, and links the rest. */
static void write_copy_form(struct page *p, enum standings_by by) {
    if (!board_table_is_ranking(by))
        return;
    textbuf_puts(&p->m, "<p class=\"find scripted\"><label>");
    say(p, "find");
    textbuf_puts(&p->m, " <input type=\"search\" id=\"q\" maxlength=\"40\"></label></p>\n"
                        "<details class=\"more\"><summary>");
    say(p, "more");
    textbuf_puts(&p->m, "</summary><div>");
    if (by != BY_CATEGORY && by != BY_GROUP)
        write_choice_links(p, by);
    write_buttons(p);
    textbuf_puts(&p->m, "</div></details>\n");
}

void board_form_write(struct page *p, const struct board_view *board) {
    enum standings_by by = board->st->by;
    static const char *const always[] = {"lang", "view", NULL};
    static const char *const grouped[] = {"lang", "view", "by", NULL};
    if (page_is_copy(p)) {
        write_copy_form(p, by);
        return;
    }
    textbuf_printf(&p->m, "<form action=\"/%s/\" method=\"get\" class=\"find\" role=\"search\">",
                   p->rules->slug);
    keep_choices(p, by == BY_OVERALL || by == BY_CLASS ? always : grouped);
    textbuf_puts(&p->m, "<label>");
    say(p, "find");
    textbuf_puts(&p->m, " <input type=\"search\" name=\"q\" id=\"q\" maxlength=\"40\" value=\"");
    if (request_query(p->r, "q") != NULL)
        html_text(&p->m, request_query(p->r, "q"));
    textbuf_puts(&p->m, "\"></label> <button type=\"submit\">");
    say(p, "show");
    textbuf_puts(&p->m, "</button> ");
    if (by == BY_TEST) {
        textbuf_puts(&p->m, "</form>\n");
        return;
    }
    textbuf_puts(&p->m, "<details class=\"more\"><summary>");
    say(p, "more");
    textbuf_puts(&p->m, "</summary><div>");
    if (by == BY_OVERALL || by == BY_CLASS)
        write_era_choice(p);
    write_after_choice(p, board->after);
    if (board_table_is_ranking(by))
        write_buttons(p);
    textbuf_puts(&p->m, "</div></details></form>\n");
}
