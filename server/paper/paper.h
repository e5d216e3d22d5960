/* SPDX-License-Identifier: MIT */
/* paper.h - a document on A4: headings, text and tables under one frame, as PDF.
 * Each page has the event and the title at its top, and at its foot where and when it was
 * published, the hash of what it says, the page's address as a QR code, and "page n of m". A
 * table's header stands again on each page, and no row is split. The same document gives the same
 * bytes on the same machine. One owner at a time; different documents in different threads. */
#ifndef CAIRN_PAPER_H
#define CAIRN_PAPER_H

#include <stdbool.h>
#include <stdint.h>

struct textbuf;
struct paper_doc;

enum { PAPER_COLUMNS_MAX = 12 };

/* What stands on each page. No text may be NULL; they are copied. All text is UTF-8; control
 * characters become blanks, and marks that turn the direction of writing are left out. */
struct paper_head {
    const char *event;   /* its name */
    const char *title;   /* what the paper is */
    const char *state;   /* in small letters beside it: "provisional", "" */
    const char *origin;  /* when it was published and at which revision, for people */
    const char *hash;    /* of what it says, in hex; "" for none */
    const char *address; /* of the page with the same content; "" for none, and no QR code then */
    int64_t made_ms;     /* the time of its facts: the PDF's creation date */
};

/* A column of a table. A column is as wide as its widest cell; one with a share wraps its text
 * instead, and shares what is left of the page's width with the others like it. */
struct paper_column {
    const char *head; /* a text that lives for ever */
    bool right;       /* its cells stand to the right, as figures do */
    bool box;         /* lines to the left and right: to be written in by hand */
    bool large;       /* its cells are set as large as a title, to be read from afar */
    int share;        /* of the width that is left; 0 for none */
    int width;        /* at least, in points of 1/72 inch */
};

/* A new, empty document. Returns NULL when memory is out. The functions below then note a lack of
 * memory in the document, and paper_print returns it. */
struct paper_doc *paper_new(const struct paper_head *head);

/* Frees it; NULL is accepted. */
void paper_free(struct paper_doc *doc);

/* A heading; it stays on the page of what follows it. */
void paper_heading(struct paper_doc *doc, const char *text);

/* Text of any length, with its line breaks. */
void paper_text(struct paper_doc *doc, const char *text);

/* What is to be found quickly on a sheet that is read at arm's length: a label, and beside it a
 * text of any length. */
void paper_pair(struct paper_doc *doc, const char *label, const char *text);

/* An address as a QR code of a hand's width, and a text beside it. Nothing but the text where the
 * address is too long for a code. */
void paper_code(struct paper_doc *doc, const char *address, const char *text);

/* Ends the page; what follows begins the next. */
void paper_page(struct paper_doc *doc);

/* Begins a table; paper_cell then fills it, row by row.
 *   columns     at most PAPER_COLUMNS_MAX, copied
 *   row_height  at least, in points; 0 for what the text needs */
void paper_table(struct paper_doc *doc, const struct paper_column *columns, int count,
                 int row_height);
void paper_cell(struct paper_doc *doc, const char *text);

struct paper_count {
    int pages;
    int unknown; /* letters that no font of this machine has: they print as boxes */
};

/* Draws the document; one is drawn at a time, others wait. Not for a server, which uses
 * drawing_process.h: where memory or threads run out the libraries end the program.
 *   pdf    gets the file
 *   count  gets what it came to
 *   why    gets what is wrong
 * Returns: ERR_OK; ERR_IO where the libraries or their fonts are missing; ERR_NOMEM. */
int paper_print(const struct paper_doc *doc, struct textbuf *pdf, struct paper_count *count,
                struct textbuf *why);

#endif
