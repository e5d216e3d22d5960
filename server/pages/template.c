/* SPDX-License-Identifier: MIT */
/* Writes pages from compiled templates: a walk over pieces. */
#include "pages/template.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "pages/page.h"
#include "pages/template_code.h"
#include "system/html.h"

/* One writing of a template. */
struct walk {
    struct page *p;
    const struct template_code *code;
    const char *contents[TEMPLATE_DEPTH]; /* the outermost first */
};

static void write_pieces(struct walk *w, size_t first, size_t end);

static const void *value_at(const struct walk *w, const struct template_value *value) {
    return w->contents[value->depth] + value->offset;
}

static const char *text_at(const struct walk *w, const struct template_value *value) {
    return *(const char *const *)value_at(w, value);
}

static int64_t number_at(const struct walk *w, const struct template_value *value) {
    return *(const int64_t *)value_at(w, value);
}

static const struct template_rows *rows_at(const struct walk *w,
                                           const struct template_value *value) {
    return value_at(w, value);
}

static bool is_there(const struct walk *w, const struct template_value *value) {
    switch (value->type) {
    case TEMPLATE_TEXT:
        return text_at(w, value) != NULL && *text_at(w, value) != '\0';
    case TEMPLATE_NUMBER:
        return number_at(w, value) != 0;
    case TEMPLATE_FLAG:
        return *(const bool *)value_at(w, value);
    case TEMPLATE_MARKUP:
        return ((const struct markup *)value_at(w, value))->put != NULL;
    case TEMPLATE_ADDRESS:
        return page_leads(w->p, value_at(w, value));
    default:
        return rows_at(w, value)->count > 0;
    }
}

static void write_text(struct walk *w, const struct template_value *value) {
    const char *text = text_at(w, value);
    if (text != NULL)
        html_text(&w->p->m, text);
}

static void write_markup(struct walk *w, const struct template_value *value) {
    const struct markup *markup = value_at(w, value);
    if (markup->put != NULL)
        markup->put(w->p, markup->of);
}

static void write_argument(struct walk *w, const struct word_argument *argument) {
    if (argument->is_part)
        write_pieces(w, argument->first, argument->end);
    else if (argument->value.type == TEMPLATE_NUMBER)
        textbuf_int(&w->p->m, number_at(w, &argument->value));
    else
        write_text(w, &argument->value);
}

static void write_word(struct walk *w, const struct template_word *word) {
    enum lang lang = w->p->lang;
    bool others = word->counts && !word_is_one(lang, number_at(w, &word->arguments[0].value));
    const struct word_form *form = &word->forms[lang][others];
    for (int i = 0; i < form->count; i++) {
        const struct word_stretch *stretch = &form->stretches[i];
        textbuf_add(&w->p->m, stretch->bytes, stretch->len);
        if (stretch->argument >= 0)
            write_argument(w, &word->arguments[stretch->argument]);
    }
}

static void write_rows(struct walk *w, const struct template_piece *each, size_t first) {
    const struct template_rows *rows = rows_at(w, &each->value);
    const char *row = rows->first;
    /* A part may have rows of its own and be put into a word amid others. */
    const char *around = w->contents[each->depth];
    for (size_t i = 0; i < rows->count; i++, row += rows->size) {
        w->contents[each->depth] = row;
        write_pieces(w, first, each->next);
    }
    w->contents[each->depth] = around;
}

static void write_pieces(struct walk *w, size_t first, size_t end) {
    struct textbuf *b = &w->p->m;
    size_t next;
    for (size_t i = first; i < end; i = next) {
        const struct template_piece *piece = &w->code->pieces[i];
        next = i + 1;
        switch (piece->kind) {
        case PIECE_LITERAL:
            textbuf_add(b, w->code->text.bytes + piece->from, piece->len);
            break;
        case PIECE_TEXT:
            write_text(w, &piece->value);
            break;
        case PIECE_NUMBER:
            textbuf_int(b, number_at(w, &piece->value));
            break;
        case PIECE_MOMENT:
            moment_write(b, number_at(w, &piece->value));
            break;
        case PIECE_MARKUP:
            write_markup(w, &piece->value);
            break;
        case PIECE_ADDRESS:
            page_attribute(w->p, piece->attribute, value_at(w, &piece->value));
            break;
        case PIECE_WORD:
            write_word(w, piece->word);
            break;
        case PIECE_IF:
            next = is_there(w, &piece->value) ? next : piece->next;
            break;
        case PIECE_UNLESS:
            next = is_there(w, &piece->value) ? piece->next : next;
            break;
        case PIECE_JUMP:
            next = piece->next;
            break;
        case PIECE_EACH:
            write_rows(w, piece, next);
            next = piece->next;
            break;
        }
    }
}

void template_write(struct page *p, const struct template *t, const void *content) {
    struct walk w = {.p = p, .code = t->compiled, .contents = {content}};
    write_pieces(&w, 0, w.code->count);
}

void template_free(struct template *t) {
    if (t->compiled == NULL)
        return;
    free(t->compiled->pieces);
    textbuf_clear(&t->compiled->text);
    arena_free(t->compiled->arena);
    free(t->compiled);
    t->compiled = NULL;
}
