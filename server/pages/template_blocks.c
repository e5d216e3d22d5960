/* SPDX-License-Identifier: MIT */
/* The blocks of templates: {if}, {unless}, {each} and {part}, with {else} and {end}. */
#include <string.h>

#include "pages/template_compiler.h"

/* What follows is jumped to, and so begins a piece. */
static void set_target(struct compiler *c, size_t piece) {
    c->code->pieces[piece].next = c->code->count;
    c->joins = false;
}

static bool open_block(struct compiler *c, enum block_kind kind, enum piece_kind piece,
                       const struct token *name, const struct template_value *value) {
    if (c->block_count == BLOCKS_MAX)
        return template_fault(c, "too many blocks inside each other");
    struct template_piece *opening = template_add_piece(c, piece);
    if (opening == NULL)
        return false;
    if (value != NULL)
        opening->value = *value;
    c->blocks[c->block_count++] =
        (struct block){kind, *name, c->code->count - 1, c->where, c->line, c->part_count};
    c->joins = false;
    return true;
}

bool template_compile_if(struct compiler *c, const struct hole_text *h) {
    enum piece_kind kind = strcmp(h->kind, "if") == 0 ? PIECE_IF : PIECE_UNLESS;
    struct template_value value;
    return template_find(c, &h->name, &value) != NULL &&
           open_block(c, BLOCK_IF, kind, &h->name, &value);
}

bool template_compile_each(struct compiler *c, const struct hole_text *h) {
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

bool template_compile_part(struct compiler *c, const struct hole_text *h) {
    return template_takes_tags(c, false) && open_block(c, BLOCK_PART, PIECE_JUMP, &h->name, NULL);
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

bool template_compile_else(struct compiler *c) {
    struct block *block = close_branch(c, "else");
    if (block == NULL)
        return false;
    if (block->kind != BLOCK_IF)
        return template_fault(c, "{else} without an {if}");
    if (template_add_piece(c, PIECE_JUMP) == NULL)
        return false;
    set_target(c, block->piece);
    block->kind = BLOCK_ELSE;
    block->piece = c->code->count - 1;
    c->part_count = block->part_count;
    return true;
}

bool template_compile_end(struct compiler *c) {
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
