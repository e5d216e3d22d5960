/* SPDX-License-Identifier: MIT */
#include "paper/paper_pack.h"

#include <string.h>

#include "base/textbuf.h"
#include "paper/paper.h"
#include "paper/paper_private.h"

/* Numbers are written as this machine holds them: both ends are one program. A text is its length,
 * its bytes and a NUL. */

static void write_number(struct textbuf *b, int64_t value) {
    textbuf_add(b, (const char *)&value, sizeof value);
}

static void write_text(struct textbuf *b, const char *text) {
    size_t len = strlen(text);
    write_number(b, (int64_t)len);
    textbuf_add(b, text, len + 1);
}

static void write_table(struct textbuf *b, const struct block *block) {
    write_number(b, block->row_height);
    write_number(b, block->column_count);
    for (int i = 0; i < block->column_count; i++) {
        const struct paper_column *c = &block->columns[i];
        write_text(b, c->head);
        write_number(b, c->right);
        write_number(b, c->box);
        write_number(b, c->large);
        write_number(b, c->share);
        write_number(b, c->width);
    }
    write_number(b, (int64_t)block->cell_count);
    for (size_t i = 0; i < block->cell_count; i++)
        write_text(b, block->cells[i]);
}

void paper_pack(const struct paper_doc *doc, struct textbuf *b) {
    const struct paper_head *head = &doc->head;
    const char *const texts[] = {head->event,  head->title, head->state,
                                 head->origin, head->hash,  head->address};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        write_text(b, texts[i]);
    write_number(b, head->made_ms);
    write_number(b, (int64_t)doc->block_count);
    for (size_t i = 0; i < doc->block_count; i++) {
        write_number(b, doc->blocks[i].kind);
        if (doc->blocks[i].kind == BLOCK_TABLE)
            write_table(b, &doc->blocks[i]);
        else
            write_text(b, doc->blocks[i].text);
    }
    b->failed = b->failed || doc->failed;
}

/* Bytes of a label, or of an address that is drawn as a code, see qr.h. */
enum { READ_FIRST_MAX = 2048 };

/* What is left to read. */
struct rest {
    const char *at, *end;
    bool bad;
};

/* A number from 0 to `most`. */
static int64_t read_number(struct rest *r, int64_t most) {
    int64_t value = 0;
    if ((size_t)(r->end - r->at) < sizeof value) {
        r->bad = true;
        return 0;
    }
    memcpy(&value, r->at, sizeof value);
    r->at += sizeof value;
    r->bad = r->bad || value < 0 || value > most;
    return r->bad ? 0 : value;
}

static const char *read_text(struct rest *r) {
    int64_t len = read_number(r, r->end - r->at);
    const char *text = r->at;
    if (r->bad || len >= r->end - r->at || text[len] != '\0') {
        r->bad = true;
        return "";
    }
    r->at += len + 1;
    return text;
}

static void read_table(struct rest *r, struct paper_doc *doc) {
    struct paper_column columns[PAPER_COLUMNS_MAX] = {0};
    int row_height = (int)read_number(r, INT32_MAX);
    int count = (int)read_number(r, PAPER_COLUMNS_MAX);
    for (int i = 0; i < count; i++) {
        columns[i].head = read_text(r);
        columns[i].right = read_number(r, 1) != 0;
        columns[i].box = read_number(r, 1) != 0;
        columns[i].large = read_number(r, 1) != 0;
        columns[i].share = (int)read_number(r, INT32_MAX);
        columns[i].width = (int)read_number(r, INT32_MAX);
    }
    int64_t cells = read_number(r, r->end - r->at);
    r->bad = r->bad || count == 0 || cells % count != 0;
    if (r->bad)
        return;
    paper_table(doc, columns, count, row_height);
    for (int64_t i = 0; i < cells && !r->bad; i++)
        paper_cell(doc, read_text(r));
}

/* A block of two texts, with a line break between them. */
static void read_two(struct rest *r, struct paper_doc *doc,
                     void make(struct paper_doc *, const char *, const char *)) {
    const char *text = read_text(r);
    const char *second = strchr(text, '\n');
    char first[READ_FIRST_MAX];
    r->bad = r->bad || second == NULL || (size_t)(second - text) >= sizeof first;
    if (r->bad)
        return;
    memcpy(first, text, (size_t)(second - text));
    first[second - text] = '\0';
    make(doc, first, second + 1);
}

static void read_block(struct rest *r, struct paper_doc *doc) {
    switch ((enum block_kind)read_number(r, BLOCK_TABLE)) {
    case BLOCK_HEADING:
        paper_heading(doc, read_text(r));
        break;
    case BLOCK_TEXT:
        paper_text(doc, read_text(r));
        break;
    case BLOCK_PAIR:
        read_two(r, doc, paper_pair);
        break;
    case BLOCK_CODE:
        read_two(r, doc, paper_code);
        break;
    case BLOCK_PAGE:
        (void)read_text(r);
        paper_page(doc);
        break;
    case BLOCK_TABLE:
        read_table(r, doc);
        break;
    }
}

struct paper_doc *paper_unpack(const char *bytes, size_t len) {
    struct rest r = {bytes, bytes + len, false};
    struct paper_head head = {0};
    const char **const texts[] = {&head.event,  &head.title, &head.state,
                                  &head.origin, &head.hash,  &head.address};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        *texts[i] = read_text(&r);
    head.made_ms = read_number(&r, INT64_MAX);
    int64_t blocks = read_number(&r, r.end - r.at);
    struct paper_doc *doc = r.bad ? NULL : paper_new(&head);
    if (doc == NULL)
        return NULL;
    for (int64_t i = 0; i < blocks && !r.bad; i++)
        read_block(&r, doc);
    if (!r.bad && r.at == r.end && !doc->failed)
        return doc;
    paper_free(doc);
    return NULL;
}
