/* SPDX-License-Identifier: MIT */
/* codes.h - the codes of crews as a table, for the office and from the command line. */
#ifndef CAIRN_CODES_H
#define CAIRN_CODES_H

#include "base/textbuf.h"
#include "event/entries.h"
#include "store/code_book.h"

/* Appends the codes as CSV: number, driver, navigator, code. */
void codes_write_csv(struct textbuf *b, const struct entries *entries,
                     const struct code_book *book);

#endif
