/* SPDX-License-Identifier: MIT */
/* template.h - pages from templates: files of HTML with named holes, which a web designer can read
 * and change. They stand in web/board/templates/, two shells in web/desk/ and web/office/, and are
 * part of the program.
 *
 * A template is filled from its content: a struct whose members are its holes. A member's type says
 * what it holds, and by that how it is written; the template cannot change it.
 *
 *   member of the content     hole              what is written
 *   const char *title         {title}           the text, escaped; nothing for NULL
 *   int64_t number            {number}          the whole number
 *   int64_t posted            {moment:posted}   ms since 1970, as an element <time>
 *   struct address card       {href:card}       the attribute; also src, action, data-figures
 *   struct markup days        {markup:days}     what C made, the only one that is not escaped
 *   struct template_rows all  {each:all}        what follows, once for each row, up to {end}; a row
 *                                               is a content itself
 *   bool live                 {if:live}         what follows, up to {else} or {end}
 *
 * {if:NAME}, and {unless:NAME} which is its contrary, take any member: a text that is not empty, a
 * number that is not 0, markup and an address that are there, at least one row. An address is there
 * where a link to it leads anywhere: in a copy of the site, where the copy has its file. Inside
 * {each} a name is the row's own or, where the row has none of that name, the content's around it.
 *
 *   {word:KEY A B}      a word of the catalogue, with A and B, if any, in the places {0} and {1}
 *   {count:KEY N B}     its form for the number N, which is {0}
 *   {part:NAME}...{end} a piece that stands nowhere itself, but may be put into a word as A or B
 *
 * What is put into a word is a text, a number, or a part.
 *
 * White space: indentation is dropped. A line that has nothing but {if}, {unless}, {else}, {end},
 * {each}, {part} or {markup} leaves no line end, nor does one that ends with a part or a backslash.
 * Inside a tag a line end is a blank. Lines from one that begins with <!-- to one that ends with
 * --> are left out.
 *
 * Everything is checked when a template is compiled, so that nothing is left to go wrong when a
 * page is asked for: names, types, words and what is put into them, blocks that end where they
 * began, holes of the content that the template lacks. Text and numbers may stand between tags and
 * in quoted attributes, but not begin a href, src or action; markup and moments between tags only;
 * addresses inside a tag only. */
#ifndef CAIRN_TEMPLATE_H
#define CAIRN_TEMPLATE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/textbuf.h"

struct page;

/* HTML that C makes, ready to be sent: `put` appends it to the page. A type of its own, so that no
 * text is taken for it. {0} is none.
 *   of  what it is made of; borrowed until the page is written */
struct markup {
    void (*put)(struct page *p, const void *of);
    const void *of;
};

/* Where a link leads. {0} is nowhere.
 *   path       path and query on this server, not escaped: "/SLUG/?by=day"
 *   elsewhere  it is a whole address instead, which stands as it is in a copy, too */
struct address {
    const char *path;
    bool elsewhere;
};

/* Rows of one type: what an array holds. {0} is none. */
struct template_rows {
    const void *first;
    size_t count;
    size_t size; /* bytes from one to the next */
};

/* The rows of an array, as an initializer. */
#define TEMPLATE_ROWS_OF(array, count)                                                             \
    { (array), (size_t)(count), sizeof *(array) }

enum template_type {
    TEMPLATE_TEXT,
    TEMPLATE_NUMBER,
    TEMPLATE_FLAG,
    TEMPLATE_MARKUP,
    TEMPLATE_ADDRESS,
    TEMPLATE_ROWS
};

/* A member of a content. A list of them ends with {0}. */
struct template_hole {
    const char *name;
    enum template_type type;
    size_t offset;
    const struct template_hole *row; /* members of each row; else NULL */
};

/* The line of a list for a member of `content`, which names a type. No other type will compile. */
#define TEMPLATE_HOLE(content, member)                                                             \
    { #member, TEMPLATE_TYPE(((content *)NULL)->member), offsetof(content, member), NULL }
#define TEMPLATE_EACH(content, member, row)                                                        \
    { #member, TEMPLATE_TYPE(((content *)NULL)->member), offsetof(content, member), row }
#define TEMPLATE_TYPE(value)                                                                       \
    _Generic((value), const char * : TEMPLATE_TEXT, int64_t : TEMPLATE_NUMBER,                     \
             bool : TEMPLATE_FLAG, struct markup : TEMPLATE_MARKUP,                                \
             struct address : TEMPLATE_ADDRESS, struct template_rows : TEMPLATE_ROWS)

/* A template: where it stands and what its content has. `compiled` is set once, before any thread
 * writes a page, and then only read. */
struct template {
    const char *file; /* "web/board/templates/card.html" */
    const struct template_hole *holes;
    struct template_code *compiled; /* owned; NULL before template_compile */
};

/* Compiles a template. The words must have been loaded.
 *   text, end  what it says, which is copied; a NUL stands at `end`
 *   why        gets "FILE:LINE: " and what is wrong
 * Returns: ERR_OK; ERR_INPUT where something is; ERR_NOMEM. */
int template_compile(struct template *t, const char *text, const char *end, struct textbuf *why);

/* Frees what template_compile made. */
void template_free(struct template *t);

/* Appends a template to the main part of a page, in the page's language. Memory that is out fails
 * the buffer; nothing else can go wrong.
 *   content  of the type that the template's holes were listed for; borrowed for the call */
void template_write(struct page *p, const struct template *t, const void *content);

#endif
