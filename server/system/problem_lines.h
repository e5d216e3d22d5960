/* SPDX-License-Identifier: MIT */
/* problem_lines.h - problems as lines for a person at a terminal. */
#ifndef CAIRN_PROBLEM_LINES_H
#define CAIRN_PROBLEM_LINES_H

struct problems;

/* Prints problems on standard error, a line each, "PLACE: TEXT"; what is no error is marked as
 * refused, warning or doubt. Control characters in them are written out, so that no text that
 * somebody typed moves the terminal's cursor. */
void print_problems(const struct problems *problems);

#endif
