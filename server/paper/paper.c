/* SPDX-License-Identifier: MIT */
#include "paper/paper.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/textbuf.h"
#include "base/utf8.h"
#include "paper/paper_private.h"

/* A copy without marks that turn the direction: in a name they would turn its neighbours too.
 * Control characters, which no paper can show, become blanks. So that one name cannot keep a whole
 * list from being drawn, what is no character becomes U+FFFD.
 *   breaks  line breaks stay */
static const char *keep(struct paper_doc *doc, const char *text, bool breaks) {
    char *copy = arena_text(doc->arena, text, strlen(text));
    if (copy == NULL) {
        doc->failed = true;
        return "";
    }
    char *to = copy;
    while (*text != '\0') {
        const char *from = text;
        uint32_t c = utf8_next(&text);
        if (utf8_is_bidi_control(c))
            continue;
        if (utf8_is_control(c) && !(breaks && c == '\n')) {
            *to++ = ' ';
            continue;
        }
        /* Three bytes, and it stands for three or four. */
        bool drawn = !utf8_is_noncharacter(c);
        size_t len = drawn ? (size_t)(text - from) : 3;
        memcpy(to, drawn ? from : "\xEF\xBF\xBD", len);
        to += len;
    }
    *to = '\0';
    return copy;
}

struct paper_doc *paper_new(const struct paper_head *head) {
    struct paper_doc *doc = calloc(1, sizeof *doc);
    if (doc == NULL || (doc->arena = arena_new()) == NULL) {
        free(doc);
        return NULL;
    }
    doc->head = (struct paper_head){.event = keep(doc, head->event, false),
                                    .title = keep(doc, head->title, false),
                                    .state = keep(doc, head->state, false),
                                    .origin = keep(doc, head->origin, false),
                                    .hash = keep(doc, head->hash, false),
                                    .address = keep(doc, head->address, false),
                                    .made_ms = head->made_ms};
    return doc;
}

void paper_free(struct paper_doc *doc) {
    if (doc == NULL)
        return;
    for (size_t i = 0; i < doc->block_count; i++)
        free(doc->blocks[i].cells);
    free(doc->blocks);
    arena_free(doc->arena);
    free(doc);
}

static struct block *add(struct paper_doc *doc, enum block_kind kind) {
    struct block *blocks =
        array_reserve(doc->blocks, &doc->block_cap, doc->block_count + 1, sizeof *blocks);
    if (blocks == NULL) {
        doc->failed = true;
        return NULL;
    }
    doc->blocks = blocks;
    blocks[doc->block_count] = (struct block){.kind = kind, .text = ""};
    return &blocks[doc->block_count++];
}

void paper_heading(struct paper_doc *doc, const char *text) {
    struct block *block = add(doc, BLOCK_HEADING);
    if (block != NULL)
        block->text = keep(doc, text, false);
}

void paper_text(struct paper_doc *doc, const char *text) {
    struct block *block = add(doc, BLOCK_TEXT);
    if (block != NULL)
        block->text = keep(doc, text, true);
}

/* Two texts in one, the first of them without a line break. */
static void add_two(struct paper_doc *doc, enum block_kind kind, const char *first,
                    const char *second) {
    struct block *block = add(doc, kind);
    struct textbuf both = {0};
    textbuf_printf(&both, "%s\n%s", keep(doc, first, false), second);
    if (block != NULL)
        block->text = keep(doc, textbuf_text(&both), true);
    doc->failed = doc->failed || both.failed;
    textbuf_clear(&both);
}

void paper_pair(struct paper_doc *doc, const char *label, const char *text) {
    add_two(doc, BLOCK_PAIR, label, text);
}

void paper_code(struct paper_doc *doc, const char *address, const char *text) {
    add_two(doc, BLOCK_CODE, address, text);
}

void paper_page(struct paper_doc *doc) {
    (void)add(doc, BLOCK_PAGE);
}

void paper_table(struct paper_doc *doc, const struct paper_column *columns, int count,
                 int row_height) {
    struct block *block = add(doc, BLOCK_TABLE);
    if (block == NULL)
        return;
    memcpy(block->columns, columns, (size_t)count * sizeof *columns);
    block->column_count = count;
    block->row_height = row_height;
}

void paper_cell(struct paper_doc *doc, const char *text) {
    if (doc->failed)
        return; /* the table itself may be missing */
    struct block *block = &doc->blocks[doc->block_count - 1];
    const char **cells =
        array_reserve(block->cells, &block->cell_cap, block->cell_count + 1, sizeof *cells);
    if (cells == NULL) {
        doc->failed = true;
        return;
    }
    block->cells = cells;
    cells[block->cell_count++] = keep(doc, text, false);
}
