/* SPDX-License-Identifier: MIT */
#include "pages/table.h"

#include <string.h>

#include "system/html.h"

/* The tables one behind another: a row without key or words begins each, and ends the one before;
 * its class is the table's name. */
#define TABLE(name) {NULL, NULL, name, false},
#define COLUMN(key, words, class) {key, words, class, false},
#define OPTIONAL(key, words, class) {key, words, class, true},
static const struct table_column listed[] = {
#include "pages/columns.def"
    {NULL, NULL, NULL, false}};
#undef TABLE
#undef COLUMN
#undef OPTIONAL

const struct table_column *columns_of(const char *name) {
    for (const struct table_column *c = listed; c->class != NULL; c++) {
        if (c->key == NULL && strcmp(c->class, name) == 0)
            return c + 1;
    }
    return NULL;
}

static const struct table_cell *cell_of(const struct table_cell *cells, const char *key) {
    for (; cells->key != NULL; cells++) {
        if (strcmp(cells->key, key) == 0)
            return cells;
    }
    return NULL;
}

static void write_heading(struct page *p, const struct table_column *column, const char *words) {
    textbuf_puts(&p->m, "<th scope=\"col\"");
    if (*column->class != '\0')
        textbuf_printf(&p->m, " class=\"%s\"", column->class);
    textbuf_putc(&p->m, '>');
    say(p, words != NULL ? words : column->words);
    textbuf_puts(&p->m, "</th>");
}

/* The head of a table, and in the order of its columns the writers of their cells. */
static void write_head(struct table *t, const struct table_column *column,
                       const struct table_cell *cells) {
    struct page *p = t->page;
    for (; column != NULL && column->words != NULL; column++) {
        const struct table_cell *cell = cell_of(cells, column->key);
        if (cell == NULL || t->count == TABLE_COLUMNS_MAX ||
            (cell->write == NULL && !column->optional)) {
            p->m.failed = true;
        } else if (cell->write != NULL) {
            t->cells[t->count++] = cell->write;
            write_heading(p, column, cell->words);
        }
    }
    p->m.failed = p->m.failed || t->count == 0;
}

struct table_caption caption_text(const char *text) {
    return (struct table_caption){.text = text};
}

struct table_caption caption_markup(struct markup markup) {
    return (struct table_caption){.markup = markup};
}

static void write_caption(struct page *p, struct table_caption caption) {
    if (caption.text != NULL)
        html_text(&p->m, caption.text);
    else
        caption.markup.put(p, caption.markup.of);
}

void table_begin(struct table *t, struct page *p, const char *name, const char *class,
                 struct table_caption caption, const struct table_cell *cells) {
    *t = (struct table){.page = p};
    textbuf_printf(&p->m, "<div class=\"scroll\"><table class=\"%s\">\n<caption>", class);
    write_caption(p, caption);
    textbuf_puts(&p->m, "</caption>\n<thead><tr>");
    write_head(t, columns_of(name), cells);
    textbuf_puts(&p->m, "</tr></thead>\n<tbody>\n");
}

void table_cells(const struct table *t, int car, const void *of) {
    const struct table_row row = {car, of};
    for (int i = 0; i < t->count; i++)
        t->cells[i](t->page, &row);
    textbuf_puts(&t->page->m, "</tr>\n");
}

void table_end(struct page *p) {
    textbuf_puts(&p->m, "</tbody>\n</table></div>\n");
}

void cell_number(struct page *p, int64_t number) {
    textbuf_puts(&p->m, "<td>");
    textbuf_int(&p->m, number);
    textbuf_puts(&p->m, "</td>");
}

void cell_fails(struct page *p, int fails) {
    if (!p->rules->scoring.shown_as_time || fails == 0) {
        cell_number(p, fails);
        return;
    }
    textbuf_puts(&p->m, "<td>");
    say_count(p, "fails", fails, NULL);
    textbuf_puts(&p->m, "</td>");
}

void cell_penalty(struct page *p, int64_t penalty) {
    textbuf_puts(&p->m, "<td>");
    put_penalty(p, penalty);
    textbuf_puts(&p->m, "</td>");
}

void cell_known(struct page *p, int64_t penalty, bool known) {
    if (known)
        cell_penalty(p, penalty);
    else
        textbuf_puts(&p->m, "<td>–</td>");
}

void cell_gap(struct page *p, struct gap gap, bool known) {
    textbuf_puts(&p->m, "<td>");
    if (known)
        put_gap(p, gap);
    else
        textbuf_puts(&p->m, "–");
    textbuf_puts(&p->m, "</td>");
}

void cell_time(struct page *p, int64_t ms, int64_t unit) {
    textbuf_puts(&p->m, "<td>");
    if (ms != TIME_NONE)
        put_time(p, ms, unit);
    textbuf_puts(&p->m, "</td>");
}

void cell_place(struct page *p, int position, bool equal) {
    textbuf_puts(&p->m, equal ? "<td>=" : "<td>");
    textbuf_int(&p->m, position);
    textbuf_puts(&p->m, "</td>");
}

void cell_plate(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<td>");
    put_plate(p, row->car);
    textbuf_puts(&p->m, "</td>");
}

void cell_crew(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<th scope=\"row\"><a ");
    page_href(p, "cars/%d", p->event->entries->list[row->car].number);
    textbuf_putc(&p->m, '>');
    put_crew(p, row->car);
    textbuf_puts(&p->m, "</a><small>");
    put_vehicle(p, row->car);
    textbuf_printf(&p->m, ", %d</small></th>", p->event->entries->list[row->car].year);
}

void cell_class(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<td>");
    put_class(p, row->car);
    textbuf_puts(&p->m, "</td>");
}
