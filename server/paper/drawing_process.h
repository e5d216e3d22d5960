/* SPDX-License-Identifier: MIT */
/* drawing_process.h - draws a document in a process of its own.
 *
 * The libraries that draw end a program that has no memory or no thread left, and what they draw
 * comes from outside. So a server gives the document to a child: the same program with the hidden
 * command `draw-paper`, which reads it from its standard input and writes the PDF to its standard
 * output. It holds none of the server's files, has bounds for memory and processor time, is the
 * first to be killed where memory runs out, and is killed when the process that waits for it ends.
 */
#ifndef CAIRN_DRAWING_PROCESS_H
#define CAIRN_DRAWING_PROCESS_H

#include <stdbool.h>

#include "paper/paper.h"

/* Draws the document.
 *   program   the program to run, "/proc/self/exe"
 *   given_up  called some times a second with `context`: true once nobody waits for it any more
 *   pdf       gets the file
 *   count     gets what it came to
 *   why       gets what is wrong
 * Returns: ERR_OK; ERR_IO where the libraries or fonts are missing, or the child ended in another
 * way or took longer than LIMIT_PAPER_PATIENCE; ERR_BUSY where there is no process to be had, or it
 * was given up; ERR_NOMEM. Any thread; SIGPIPE must be ignored. */
int drawing_process_draw(const char *program, const struct paper_doc *doc,
                         bool (*given_up)(void *context), void *context, struct textbuf *pdf,
                         struct paper_count *count, struct textbuf *why);

/* The child's side: reads standard input, writes standard output. Returns the exit status. */
int drawing_process_child(void);

#endif
