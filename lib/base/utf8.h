/* SPDX-License-Identifier: MIT */
/* utf8.h - checks UTF-8 and counts how wide a text stands on a board.
 * Source: RFC 3629 for what is valid; Unicode's East Asian Width and general categories for the
 * width, in the coarse ranges that names of people and cars need. */
#ifndef CAIRN_UTF8_H
#define CAIRN_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* True where the `len` bytes are well-formed UTF-8. */
bool utf8_valid(const char *text, size_t len);

/* Makes any bytes a line of valid UTF-8, in place: each C0 control character and delete becomes
 * "?", and where the text is not well-formed each byte beyond ASCII too. */
void utf8_mask(char *text);

/* Reads one character of valid UTF-8 at *text, which is moved past it; U+FFFD for a bad byte. */
uint32_t utf8_next(const char **text);

/* Bytes of the longest beginning of valid UTF-8 text that is `most` bytes long at most and cuts no
 * character in two. */
size_t utf8_fit(const char *text, size_t most);

/* True for a code point that Unicode keeps free of characters: U+FDD0 to U+FDEF, and the last two
 * of each plane. Programs may use them inside; libraries that draw text refuse them. */
bool utf8_is_no_character(uint32_t c);

/* True for C0, delete and C1: what moves a terminal's cursor, and no paper shows. */
bool utf8_is_control(uint32_t c);

/* True for a mark that turns the direction of the text behind it: U+202A to U+202E and U+2066 to
 * U+2069. Letters that run from right to left need none. */
bool utf8_is_turn(uint32_t c);

/* Columns that the valid UTF-8 text takes in a fixed-width font: 0 for combining marks and
 * invisible signs, 2 for wide East Asian characters, else 1 each. */
int utf8_width(const char *text);

#endif
