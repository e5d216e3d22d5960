/* SPDX-License-Identifier: MIT */
/* utf8.h - checks UTF-8, and counts the columns that a text takes in a fixed-width font.
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

/* True for one of Unicode's noncharacters: U+FDD0 to U+FDEF, and the last two of each plane.
 * Programs may use them inside; libraries that draw text refuse them. */
bool utf8_is_noncharacter(uint32_t c);

/* True for C0, delete and C1: what moves a terminal's cursor, and cannot be printed on paper. */
bool utf8_is_control(uint32_t c);

/* True for one of Unicode's bidirectional controls, which turn the direction of the text behind
 * them: U+202A to U+202E and U+2066 to U+2069. Letters that run from right to left need none. */
bool utf8_is_bidi_control(uint32_t c);

/* Columns that the valid UTF-8 text takes in a fixed-width font: 0 for combining marks and
 * invisible signs, 2 for wide East Asian characters, else 1 each. */
int utf8_width(const char *text);

#endif
