/* SPDX-License-Identifier: MIT */
/* template_compiler.h - a template on its way from text to pieces. For template_compile.c and those
 * beside it alone: template_blocks.c, template_html.c, template_words.c. */
#ifndef CAIRN_TEMPLATE_COMPILER_H
#define CAIRN_TEMPLATE_COMPILER_H

#include "pages/template_code.h"

enum { BLOCKS_MAX = 12, PARTS_MAX = 8, HOLES_MAX = 96 };

/* A name in a template; not terminated. */
struct token {
    const char *at;
    size_t len;
};

/* What stands between braces: {KIND:NAME ARGUMENT ARGUMENT}. */
struct hole_text {
    const char *kind; /* NULL where only a name stands there */
    struct token name;
    struct token arguments[1 + WORD_ARGS];
    int argument_count;
};

/* Where in the HTML: between tags, in a tag, in a quoted value of one, in a script or style. */
enum where { IN_TEXT, IN_TAG, IN_VALUE, IN_SCRIPT };

enum block_kind { BLOCK_IF, BLOCK_ELSE, BLOCK_EACH, BLOCK_PART };

/* A block that is open, and what held where it began. */
struct block {
    enum block_kind kind;
    struct token name;
    size_t piece; /* whose `next` its end sets */
    enum where where;
    int line;
    int part_count;
};

struct part {
    struct token name;
    size_t first, end; /* pieces */
};

struct compiler {
    struct template *t;
    struct template_code *code;
    struct textbuf *why;
    int line;
    bool wrong, no_memory;
    enum where where;
    bool script; /* the tag that is open is one of a script or a style */
    bool joins;  /* the last piece is a literal that takes more */
    struct block blocks[BLOCKS_MAX];
    int block_count;
    const struct template_hole *contents[TEMPLATE_DEPTH];
    int depth;
    struct part parts[PARTS_MAX];
    int part_count;
    size_t part_end; /* how many pieces there were when the last part ended */
    const struct template_hole *used[HOLES_MAX];
    int used_count;
};

/* Describes the first fault, at the line that is being read. Returns false. */
bool template_fault(struct compiler *c, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Notes that memory is out. Returns false. */
bool template_no_memory(struct compiler *c);

/* A new piece of that kind, the last; NULL where memory is out, which is noted. */
struct template_piece *template_add_piece(struct compiler *c, enum piece_kind kind);

/* True where `text`, which ends at `end`, begins with `with`. */
bool template_begins(const char *text, const char *end, const char *with);

/* Follows the HTML over one byte of its own, at `at`; `end` is where its line ends.
 * Returns: false where that byte may not stand there, which is described. */
bool template_follow(struct compiler *c, const char *at, const char *end);

/* True where text may stand; else the fault is described. */
bool template_takes_text(struct compiler *c);

/* True where an element may stand, and with `script` also inside a script or style; else the fault
 * is described. */
bool template_takes_tags(struct compiler *c, bool script);

/* The member of a content around this place, and where it stands; NULL, and the fault is described,
 * where there is none. */
const struct template_hole *template_find(struct compiler *c, const struct token *name,
                                          struct template_value *out);

/* The part of that name that is known here; NULL. */
const struct part *template_find_part(const struct compiler *c, const struct token *name);

/* The word that a hole names, in every language, with what is put into it; NULL, and the fault is
 * described, where it is none.
 *   counts  its first argument chooses the form */
const struct template_word *template_word(struct compiler *c, const struct hole_text *h,
                                          bool counts);

/* Compile {if:} and {unless:}, {each:}, {part:}; {else}; {end}. False where one is wrong, which is
 * described. */
bool template_compile_if(struct compiler *c, const struct hole_text *h);
bool template_compile_each(struct compiler *c, const struct hole_text *h);
bool template_compile_part(struct compiler *c, const struct hole_text *h);
bool template_compile_else(struct compiler *c);
bool template_compile_end(struct compiler *c);

#endif
