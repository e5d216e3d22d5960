/* SPDX-License-Identifier: MIT */
/* Compiles templates: line by line into pieces, with every name looked up and every place checked.
 * Words are taken apart in template_words.c. */
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

static struct template_piece *add_piece(struct compiler *c, enum piece_kind kind) {
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

/* What follows is jumped to, and so begins a piece. */
static void set_target(struct compiler *c, size_t piece) {
    c->code->pieces[piece].next = c->code->count;
    c->joins = false;
}

static void add_byte(struct compiler *c, char byte) {
    struct template_code *code = c->code;
    if (!c->joins) {
        struct template_piece *piece = add_piece(c, PIECE_LITERAL);
        if (piece == NULL)
            return;
        piece->from = code->text.len;
    }
    textbuf_putc(&code->text, byte);
    code->pieces[code->count - 1].len++;
}

/* ---- where in the HTML ---- */

static bool begins(const char *text, const char *end, const char *with) {
    size_t len = strlen(with);
    return (size_t)(end - text) >= len && memcmp(text, with, len) == 0;
}

/* Follows the HTML over one byte of its own. */
static bool follow(struct compiler *c, const char *at, const char *end) {
    switch (c->where) {
    case IN_TEXT:
        if (*at == '<') {
            c->where = IN_TAG;
            c->script = begins(at + 1, end, "script") || begins(at + 1, end, "style");
        }
        return true;
    case IN_SCRIPT:
        if (begins(at, end, "</")) {
            c->where = IN_TAG;
            c->script = false;
        }
        return true;
    case IN_VALUE:
        if (*at == '"')
            c->where = IN_TAG;
        return true;
    default:
        if (*at == '\'')
            return template_fault(c, "an attribute stands in double quotation marks");
        if (*at == '"')
            c->where = IN_VALUE;
        else if (*at == '>')
            c->where = c->script ? IN_SCRIPT : IN_TEXT;
        return true;
    }
}

/* True where the value of an attribute that leads somewhere has just begun: what stands there first
 * decides where to. */
static bool begins_address(const struct compiler *c) {
    static const char *const leading[] = {" href=\"", " src=\"", " action=\"", " formaction=\""};
    const struct textbuf *text = &c->code->text;
    for (size_t i = 0; i < sizeof leading / sizeof leading[0]; i++) {
        size_t len = strlen(leading[i]);
        if (text->len >= len && memcmp(text->bytes + text->len - len, leading[i], len) == 0)
            return true;
    }
    return false;
}

bool template_takes_text(struct compiler *c) {
    if (c->where == IN_TAG)
        return template_fault(c, "in a tag this stands in quotation marks only");
    if (c->where == IN_SCRIPT)
        return template_fault(c, "in a script only markup stands");
    if (c->where == IN_VALUE && begins_address(c))
        return template_fault(c, "an address stands here: {href:NAME}");
    return true;
}

static bool takes_tags(struct compiler *c, bool script) {
    if (c->where == IN_TEXT || (script && c->where == IN_SCRIPT))
        return true;
    return template_fault(c, "this stands between tags only");
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

/* ---- blocks ---- */

static bool open_block(struct compiler *c, enum block_kind kind, enum piece_kind piece,
                       const struct token *name, const struct template_value *value) {
    if (c->block_count == BLOCKS_MAX)
        return template_fault(c, "too many blocks inside each other");
    struct template_piece *opening = add_piece(c, piece);
    if (opening == NULL)
        return false;
    if (value != NULL)
        opening->value = *value;
    c->blocks[c->block_count++] =
        (struct block){kind, *name, c->code->count - 1, c->where, c->line, c->part_count};
    c->joins = false;
    return true;
}

static bool compile_if(struct compiler *c, const struct hole_text *h) {
    enum piece_kind kind = strcmp(h->kind, "if") == 0 ? PIECE_IF : PIECE_UNLESS;
    struct template_value value;
    return template_find(c, &h->name, &value) != NULL &&
           open_block(c, BLOCK_IF, kind, &h->name, &value);
}

static bool compile_each(struct compiler *c, const struct hole_text *h) {
    struct template_value value;
    const struct template_hole *hole = template_find(c, &h->name, &value);
    if (hole == NULL)
        return false;
    if (hole->type != TEMPLATE_ROWS || hole->row == NULL)
        return template_fault(c, "“%s” has no rows", hole->name);
    if (c->depth + 1 == TEMPLATE_DEPTH)
        return template_fault(c, "too many contents inside each other");
    if (!open_block(c, BLOCK_EACH, PIECE_EACH, &h->name, &value))
        return false;
    c->contents[++c->depth] = hole->row;
    c->code->pieces[c->code->count - 1].depth = c->depth;
    return true;
}

static bool compile_part(struct compiler *c, const struct hole_text *h) {
    return takes_tags(c, false) && open_block(c, BLOCK_PART, PIECE_JUMP, &h->name, NULL);
}

/* The block that is open, where the HTML is at the place where it began. */
static struct block *close_branch(struct compiler *c, const char *what) {
    struct block *block = c->block_count > 0 ? &c->blocks[c->block_count - 1] : NULL;
    if (block == NULL) {
        (void)template_fault(c, "{%s} without a beginning", what);
        return NULL;
    }
    if (block->where != c->where) {
        (void)template_fault(c, "the block of line %d ends inside another tag than it began",
                             block->line);
        return NULL;
    }
    return block;
}

static bool compile_else(struct compiler *c) {
    struct block *block = close_branch(c, "else");
    if (block == NULL)
        return false;
    if (block->kind != BLOCK_IF)
        return template_fault(c, "{else} without an {if}");
    if (add_piece(c, PIECE_JUMP) == NULL)
        return false;
    set_target(c, block->piece);
    block->kind = BLOCK_ELSE;
    block->piece = c->code->count - 1;
    c->part_count = block->part_count;
    return true;
}

static bool compile_end(struct compiler *c) {
    struct block *block = close_branch(c, "end");
    if (block == NULL)
        return false;
    set_target(c, block->piece);
    c->block_count--;
    /* What was named inside is not known outside. */
    c->part_count = block->part_count;
    if (block->kind == BLOCK_EACH)
        c->depth--;
    if (block->kind != BLOCK_PART)
        return true;
    c->part_end = c->code->count;
    if (c->part_count == PARTS_MAX)
        return template_fault(c, "too many parts");
    c->parts[c->part_count++] = (struct part){block->name, block->piece + 1, c->code->count};
    return true;
}

/* ---- holes ---- */

static bool add_value(struct compiler *c, enum piece_kind kind,
                      const struct template_value *value) {
    struct template_piece *piece = add_piece(c, kind);
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
    return takes_tags(c, false) && compile_typed(c, h, TEMPLATE_NUMBER, "number", PIECE_MOMENT);
}

static bool compile_markup(struct compiler *c, const struct hole_text *h) {
    return takes_tags(c, true) && compile_typed(c, h, TEMPLATE_MARKUP, "markup", PIECE_MARKUP);
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
    struct template_piece *piece = word != NULL ? add_piece(c, PIECE_WORD) : NULL;
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
    {"if", compile_if, 0, true},
    {"unless", compile_if, 0, true},
    {"each", compile_each, 0, true},
    {"part", compile_part, 0, true},
    {"markup", compile_markup, 0, true},
    {"word", compile_word, WORD_ARGS, false},
    {"count", compile_word, WORD_ARGS, false},
    {"moment", compile_moment, 0, false},
    {"href", compile_address, 0, false},
    {"src", compile_address, 0, false},
    {"action", compile_address, 0, false},
    {"data-figures", compile_address, 0, false},
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
        return compile_else(c);
    return is_named(&h.name, "end") ? compile_end(c) : compile_plain(c, &h);
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
            if (!follow(c, at, end))
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
        comment = comment || begins(at, line_end, "<!--");
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
