/* SPDX-License-Identifier: MIT */
/* textbuf.h - growable byte buffer for building text.
 * Owns its bytes. A write that finds no memory marks the buffer as failed, and later writes do
 * nothing, so that a caller writes freely and asks once at the end. Not thread-safe. */
#ifndef CAIRN_TEXTBUF_H
#define CAIRN_TEXTBUF_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A plain value: may live on the stack; {0} is an empty buffer. Read the members, write through
 * the functions. `bytes` is NUL-terminated whenever it is not NULL. */
struct textbuf {
    char *bytes;
    size_t len;
    size_t cap;
    bool failed;
};

/* Frees the bytes and makes the buffer empty again. */
void textbuf_clear(struct textbuf *b);

/* Forgets the text but keeps the memory. A failed buffer stays failed until it is cleared: what was
 * lost before is still lost. */
void textbuf_reset(struct textbuf *b);

/* Makes sure that `more` bytes and the NUL can be appended without further memory.
 * Returns: true; false for a failed buffer, and where it fails by this. */
bool textbuf_reserve(struct textbuf *b, size_t more);

/* Appends `len` bytes; `src` may be NULL only if len is 0. */
void textbuf_add(struct textbuf *b, const void *src, size_t len);

/* Appends a NUL-terminated string. */
void textbuf_puts(struct textbuf *b, const char *text);

/* Appends one byte. */
void textbuf_putc(struct textbuf *b, char c);

/* Appends as printf does. Not for floating point. */
void textbuf_printf(struct textbuf *b, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Appends a whole number in decimal; faster than textbuf_printf. */
void textbuf_int(struct textbuf *b, int64_t value);

/* The text so far, "" for an empty or failed buffer. Borrowed: valid until the next call. */
const char *textbuf_text(const struct textbuf *b);

/* Appends a text that somebody typed, valid UTF-8, for a terminal or a table of text: each
 * control character, which would move the cursor or begin a line, becomes a blank. */
void textbuf_plain(struct textbuf *b, const char *text);

#endif
