/* SPDX-License-Identifier: MIT */
/* text_encoding.h - text in another encoding made UTF-8, by iconv. Any thread. */
#ifndef CAIRN_TEXT_ENCODING_H
#define CAIRN_TEXT_ENCODING_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

enum text_encoding {
    TEXT_ANY, /* UTF-16 by its mark, else UTF-8, and what is not UTF-8 as Windows-1252 */
    TEXT_UTF8,
    TEXT_WINDOWS_1252,
    TEXT_UTF16LE,
    TEXT_UTF16BE
};

/* Their names in that order, for a command line; NULL ends them. */
extern const char *const text_encodings[];

/* What the first bytes of a text tell: UTF-16 by its mark; `told` otherwise. */
enum text_encoding text_encoding_of(const char *bytes, size_t len, enum text_encoding told);

/* Appends as UTF-8 what stands in `bytes`. For TEXT_ANY each line is looked at by itself. Bytes
 * that mean nothing become “�”; half a letter at the end is left.
 * Returns: how many bytes were taken, all but 3 at most. */
size_t text_decode(enum text_encoding encoding, const char *bytes, size_t len, struct textbuf *out);

#endif
