/* SPDX-License-Identifier: MIT */
/* template_code.h - a compiled template: a flat list of pieces, with no name left in it. For
 * template.c, which walks it, and template_compile.c, which makes it. */
#ifndef CAIRN_TEMPLATE_CODE_H
#define CAIRN_TEMPLATE_CODE_H

#include "pages/template.h"
#include "system/words.h"

enum {
    TEMPLATE_DEPTH = 4, /* contents inside each other */
    WORD_ARGS = 2       /* what is put into a word, besides the number that chooses its form */
};

/* Where a value stands: in which of the contents around a piece, 0 the outermost. */
struct template_value {
    enum template_type type;
    int depth;
    size_t offset;
};

/* A stretch of a word's text as HTML, and what follows it: an argument, or -1 for nothing. */
struct word_stretch {
    const char *bytes;
    size_t len;
    int argument;
};

struct word_form {
    struct word_stretch *stretches;
    int count;
};

/* What is put into a word: a value, or the pieces of a part from `first` up to `end`. */
struct word_argument {
    struct template_value value;
    bool is_part;
    size_t first, end;
};

/* A word in every language and, where a number chooses, in both forms: for one and for others. */
struct template_word {
    struct word_form forms[LANG_COUNT][2];
    struct word_argument arguments[1 + WORD_ARGS];
    int argument_count;
    bool counts; /* arguments[0] chooses the form */
};

enum piece_kind {
    PIECE_LITERAL,
    PIECE_TEXT,
    PIECE_NUMBER,
    PIECE_MOMENT,
    PIECE_MARKUP,
    PIECE_ADDRESS,
    PIECE_WORD,
    PIECE_IF,     /* goes on at `next` where the value is not there */
    PIECE_UNLESS, /* ... where it is there */
    PIECE_JUMP,   /* goes on at `next`: over a branch or a part */
    PIECE_EACH    /* the pieces of a row follow, up to `next` */
};

struct template_piece {
    enum piece_kind kind;
    struct template_value value;
    size_t next;
    int depth; /* at which the rows of an EACH stand */
    const struct template_word *word;
    const char *attribute; /* of an address: "href" */
    size_t from, len;      /* of a literal, in the text */
};

struct template_code {
    struct template_piece *pieces;
    size_t count, cap;
    struct textbuf text; /* all literals, one after the other */
    struct arena *arena; /* of words */
};

#endif
