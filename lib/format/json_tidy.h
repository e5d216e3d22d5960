/* SPDX-License-Identifier: MIT */
/* json_tidy.h - writes a document that json_read_text read, with the digits of its numbers as they
 * were written, laid out for people: what fits stands on one line. */
#ifndef CAIRN_JSON_TIDY_H
#define CAIRN_JSON_TIDY_H

#include <jansson.h>

struct textbuf;

/* Appends the document and a line end. Keys keep their order.
 *   root  as json_read_text gave it, perhaps changed since; a number is a text that begins with
 *         JSON_NUMBER_MARK. Borrowed. */
void json_tidy(const json_t *root, struct textbuf *b);

#endif
