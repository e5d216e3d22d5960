/* SPDX-License-Identifier: MIT */
/* reject_file.h - the file of rows that could not be sent or were refused, to be mended and sent.
 * Each row stands in it as it was in its file, below a line that begins with CSV_NOTE and tells
 * the line and the reason, and behind the header of its file if that has one. `cairn send` takes
 * it as it is. */
#ifndef CAIRN_REJECT_FILE_H
#define CAIRN_REJECT_FILE_H

#include <stdbool.h>
#include <stddef.h>

struct reading_file;
struct textbuf;

/* Appends the rejected rows of a file: wrong ones and refused ones, in the order of lines.
 *   text, first  the file, or a part of it whose first line has that number
 * Returns: how many. */
size_t reject_file_write(struct textbuf *b, const struct reading_file *file, const char *text,
                         size_t len, long first);

/* Appends the first line of a text, without its notes, and a line end. */
void reject_file_write_header(struct textbuf *b, const char *text, size_t len);

#endif
