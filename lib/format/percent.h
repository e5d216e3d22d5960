/* SPDX-License-Identifier: MIT */
/* percent.h - text as part of an address: RFC 3986, 2.1. */
#ifndef CAIRN_PERCENT_H
#define CAIRN_PERCENT_H

struct textbuf; /* base/textbuf.h */

/* Appends a text with all its bytes as "%XX" but letters, digits and "-._~", which mean the same
 * everywhere in an address.
 *   keep  further characters that stay as they are: such as mean nothing where it goes, or are to
 *         mean what they do ("/" in a path); "" for none */
void percent_write(struct textbuf *b, const char *text, const char *keep);

#endif
