/* SPDX-License-Identifier: MIT */
/* paper_pack.h - a document as bytes, for another process of the same program: documents are drawn
 * outside the server, see drawing_process.h. One owner at a time. */
#ifndef CAIRN_PAPER_PACK_H
#define CAIRN_PAPER_PACK_H

#include <stddef.h>

struct paper_doc;
struct textbuf;

/* Appends the document. A lack of memory is noted in the buffer. */
void paper_pack(const struct paper_doc *doc, struct textbuf *b);

/* The document of such bytes, which must outlive it; freed with paper_free. NULL where they are cut
 * short or wrong, or memory is out. */
struct paper_doc *paper_unpack(const char *bytes, size_t len);

#endif
