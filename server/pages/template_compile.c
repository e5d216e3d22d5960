/* SPDX-License-Identifier: MIT */
/* Compiles templates: line by line into pieces, with every name looked up and every place checked.
 * Blocks are compiled in template_blocks.c, words in template_words.c; template_html.c knows what
 * may stand where. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "pages/template_compiler.h"

/* ---- faults ---- */

bool template_fault(struct compiler *c, const char *format, ...) {
    char text[200];
    va_list args;
    if (c->wrong)
        return false;
    c->wrong = true;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    textbuf_printf(c->why, "%s:%d: %s", c->t->file, c->line, text);
    return false;
}

bool template_no_memory(struct compiler *c) {
    c->no_memory = true;
    c->wrong = true;
    return false;
}

/* ---- pieces ---- */

struct template_piece *template_add_piece(struct compiler *c, enum piece_kind kind) {
    struct template_code *code = c->code;
    struct template_piece *pieces =
        array_reserve(code->pieces, &code->cap, code->count + 1, sizeof *pieces);
    if (pieces == NULL) {
        (void)template_no_memory(c);
        return NULL;
    }
    code->pieces = pieces;
    pieces[code->count] = (struct template_piece){.kind = kind};
    c->joins = kind == PIECE_LITERAL;
    return &pieces[code->count++];
}

static void add_byte(struct compiler *c, char byte) {
    struct template_code *code = c->code;
    if (!c->joins) {
        struct template_piece *piece = template_add_piece(c, PIECE_LITERAL);
        if (piece == NULL)
            return;
        piece->from = code->text.len;
    }
    textbuf_putc(&code->text, byte);
    code->pieces[code->count - 1].len++;
}

/* ---- names ---- */

static bool is_named(const struct token *token, const char *name) {
    return strlen(name) == token->len && memcmp(name, token->at, token->len) == 0;
}

/* Notes that a template has this member of its content. */
static bool note_use(struct compiler *c, const struct template_hole *hole) {
    for (int i = 0; i < c->used_count; i++) {
        if (c->used[i] == hole)
            return true;
    }
    if (c->used_count == HOLES_MAX)
        return template_fault(c, "too many holes");
    c->used[c->used_count++] = hole;
    return true;
}

const struct template_hole *template_find(struct compiler *c, const struct token *name,
                                          struct template_value *out) {
    for (int depth = c->depth; depth >= 0; depth--) {
        for (const struct template_hole *hole = c->contents[depth]; hole->name != NULL; hole++) {
            if (is_named(name, hole->name)) {
                *out = (struct template_value){hole->type, depth, hole->offset};
                return note_use(c, hole) ? hole : NULL;
            }
        }
    }
    (void)template_fault(c, "there is no hole “%.*s”", (int)name->len, name->at);
    return NULL;
}

const struct part *template_find_part(const struct compiler *c, const struct token *name) {
    for (int i = c->part_count; i-- > 0;) {
        if (c->parts[i].name.len == name->len &&
            memcmp(c->parts[i].name.at, name->at, name->len) == 0)
            return &c->parts[i];
    }
    return NULL;
}

/* ---- holes ---- */

static bool add_value(struct compiler *c, enum piece_kind kind,
                      const struct template_value *value) {
    struct template_piece *piece = template_add_piece(c, kind);
    if (piece != NULL)
        piece->value = *value;
    return piece != NULL;
}

/* A hole that takes members of one type. */
static bool compile_typed(struct compiler *c, const struct hole_text *h, enum template_type type,
                          const char *what, enum piece_kind kind) {
    struct template_value value;
    const struct template_hole *hole = template_find(c, &h->name, &value);
    if (hole == NULL)
        return false;
    if (value.type != type)
        return template_fault(c, "“%s” is no %s", hole->name, what);
    return add_value(c, kind, &value);
}

static bool compile_moment(struct compiler *c, const struct hole_text *h) {
    return template_takes_tags(c, false) &&
           compile_typed(c, h, TEMPLATE_NUMBER, "number", PIECE_MOMENT);
}

static bool compile_markup(struct compiler *c, const struct hole_text *h) {
    return template_takes_tags(c, true) &&
           compile_typed(c, h, TEMPLATE_MARKUP, "markup", PIECE_MARKUP);
}

static bool compile_address(struct compiler *c, const struct hole_text *h) {
    if (c->where != IN_TAG)
        return template_fault(c, "an address stands inside a tag only");
    if (!compile_typed(c, h, TEMPLATE_ADDRESS, "address", PIECE_ADDRESS))
        return false;
    c->code->pieces[c->code->count - 1].attribute = h->kind;
    return true;
}

static bool compile_word(struct compiler *c, const struct hole_text *h) {
    const struct template_word *word =
        template_takes_text(c) ? template_word(c, h, strcmp(h->kind, "count") == 0) : NULL;
    struct template_piece *piece = word != NULL ? template_add_piece(c, PIECE_WORD) : NULL;
    if (piece != NULL)
        piece->word = word;
    return piece != NULL;
}

/* A name alone: text or a number. */
static bool compile_plain(struct compiler *c, const struct hole_text *h) {
    struct template_value value;
    if (!template_takes_text(c))
        return false;
    const struct template_hole *hole = template_find(c, &h->name, &value);
    if (hole == NULL)
        return false;
    if (value.type != TEMPLATE_TEXT && value.type != TEMPLATE_NUMBER)
        return template_fault(c, "“%s” is neither text nor a number", hole->name);
    return add_value(c, value.type == TEMPLATE_TEXT ? PIECE_TEXT : PIECE_NUMBER, &value);
}

static const struct {
    const char *name;
    bool (*compile)(struct compiler *c, const struct hole_text *h);
    int arguments_max;
    bool silent; /* leaves no line end where it has a line to itself */
} kinds[] = {
    {"if", template_compile_if, 0, true},      {"unless", template_compile_if, 0, true},
    {"each", template_compile_each, 0, true},  {"part", template_compile_part, 0, true},
    {"markup", compile_markup, 0, true},       {"word", compile_word, WORD_ARGS, false},
    {"count", compile_word, WORD_ARGS, false}, {"moment", compile_moment, 0, false},
    {"href", compile_address, 0, false},       {"src", compile_address, 0, false},
    {"action", compile_address, 0, false},     {"data-figures", compile_address, 0, false},
};
enum { KIND_COUNT = sizeof kinds / sizeof kinds[0] };

/* The kind of hole that begins so; KIND_COUNT where it is none of these. */
static size_t find_kind(const struct token *token) {
    size_t kind = 0;
    while (kind < KIND_COUNT && !is_named(token, kinds[kind].name))
        kind++;
    return kind;
}

/* A name of small letters, digits, "-" and "_"; empty where none stands there. */
static struct token take_name(const char **at, const char *end) {
    struct token name = {*at, 0};
    while (*at < end && ((**at >= 'a' && **at <= 'z') || (**at >= '0' && **at <= '9') ||
                         **at == '-' || **at == '_'))
        ++*at;
    name.len = (size_t)(*at - name.at);
    return name;
}

/* Takes apart what stands between braces. */
static bool compile_hole(struct compiler *c, const char *at, const char *end) {
    struct hole_text h = {.name = take_name(&at, end)};
    size_t kind = KIND_COUNT;
    if (at < end && *at == ':') {
        kind = find_kind(&h.name);
        if (kind == KIND_COUNT)
            return template_fault(c, "there is no {%.*s:}", (int)h.name.len, h.name.at);
        at++;
        h.kind = kinds[kind].name;
        h.name = take_name(&at, end);
    }
    while (at < end && *at == ' ' && h.argument_count < 1 + WORD_ARGS) {
        at++;
        h.arguments[h.argument_count] = take_name(&at, end);
        if (h.arguments[h.argument_count++].len == 0)
            break;
    }
    if (at < end || h.name.len == 0 ||
        (h.argument_count > 0 && h.arguments[h.argument_count - 1].len == 0))
        return template_fault(c, "this hole cannot be read");
    if (h.argument_count > (kind < KIND_COUNT ? kinds[kind].arguments_max : 0))
        return template_fault(c, "this hole has too many names");
    if (kind < KIND_COUNT)
        return kinds[kind].compile(c, &h);
    if (is_named(&h.name, "else"))
        return template_compile_else(c);
    return is_named(&h.name, "end") ? template_compile_end(c) : compile_plain(c, &h);
}

/* ---- lines ---- */

/* True for a line that has nothing but holes which leave no line end. */
static bool is_silent(const char *at, const char *end) {
    while (at < end) {
        if (*at++ != '{')
            return false;
        struct token name = take_name(&at, end);
        size_t kind = at < end && *at == ':' ? find_kind(&name) : KIND_COUNT;
        if (kind < KIND_COUNT ? !kinds[kind].silent
                              : !is_named(&name, "else") && !is_named(&name, "end"))
            return false;
        const char *close = memchr(at, '}', (size_t)(end - at));
        at = close == NULL ? end : close + 1;
    }
    return true;
}

static bool compile_line(struct compiler *c, const char *at, const char *end) {
    bool silent = is_silent(at, end);
    bool goes_on = at < end && end[-1] == '\\';
    end -= goes_on;
    while (at < end) {
        if (*at != '{') {
            if (!template_follow(c, at, end))
                return false;
            add_byte(c, *at++);
            continue;
        }
        const char *close = memchr(at, '}', (size_t)(end - at));
        if (close == NULL)
            return template_fault(c, "a hole that does not end");
        if (!compile_hole(c, at + 1, close))
            return false;
        at = close + 1;
    }
    if (!silent && !goes_on && c->part_end != c->code->count)
        add_byte(c, c->where == IN_TAG || c->where == IN_VALUE ? ' ' : '\n');
    return !c->wrong;
}

static bool compile_lines(struct compiler *c, const char *at, const char *end) {
    bool comment = false;
    while (at < end) {
        const char *line_end = memchr(at, '\n', (size_t)(end - at));
        if (line_end == NULL)
            line_end = end;
        c->line++;
        while (at < line_end && (*at == ' ' || *at == '\t'))
            at++;
        comment = comment || template_begins(at, line_end, "<!--");
        if (!comment && !compile_line(c, at, line_end))
            return false;
        comment = comment && !(line_end - at >= 3 && memcmp(line_end - 3, "-->", 3) == 0);
        at = line_end + (line_end < end);
    }
    if (c->block_count > 0) {
        c->line = c->blocks[c->block_count - 1].line;
        return template_fault(c, "a block that does not end");
    }
    return c->where == IN_TEXT || template_fault(c, "a tag that does not end");
}

/* A member that the template lacks would be a thing that is told nowhere. */
static bool has_all(struct compiler *c, const struct template_hole *holes) {
    for (const struct template_hole *hole = holes; hole->name != NULL; hole++) {
        int i = 0;
        while (i < c->used_count && c->used[i] != hole)
            i++;
        if (i == c->used_count)
            return template_fault(c, "it lacks the hole “%s”", hole->name);
        if (hole->row != NULL && !has_all(c, hole->row))
            return false;
    }
    return true;
}

int template_compile(struct template *t, const char *text, const char *end, struct textbuf *why) {
    struct compiler c = {.t = t, .why = why, .contents = {t->holes}};
    template_free(t);
    t->compiled = calloc(1, sizeof *t->compiled);
    if (t->compiled == NULL)
        return ERR_NOMEM;
    c.code = t->compiled;
    c.code->arena = arena_new();
    bool good = c.code->arena != NULL && compile_lines(&c, text, end) && has_all(&c, t->holes);
    if (good && !c.code->text.failed)
        return ERR_OK;
    bool no_memory = c.no_memory || c.code->arena == NULL || c.code->text.failed;
    template_free(t);
    return no_memory ? ERR_NOMEM : ERR_INPUT;
}
