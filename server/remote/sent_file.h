/* SPDX-License-Identifier: MIT */
/* sent_file.h - the small file FILE.sent: which rows of FILE a server has acknowledged.
 * It spares sending them again. Losing it does no harm, since a reading sent twice counts once;
 * so whatever is wrong with it is told and then passed over.
 *
 * Text: a first line of its own, a line with the hash of the server's address, then the mark of a
 * row on each line. It is replaced as a whole, synced to disk, so that a crash leaves the old one
 * or the new one. */
#ifndef CAIRN_SENT_FILE_H
#define CAIRN_SENT_FILE_H

#include <stdbool.h>
#include <stddef.h>

struct receipt;
struct textbuf;

/* Reads FILE.sent, or begins an empty one.
 *   file     the path of FILE; NULL keeps no file
 *   address  where the rows go: marks under another address are forgotten
 *   out      a receipt for the caller, see receipt_free
 *   note     gets what a person should know: it belongs to another address, or is no receipt and
 *            so is left alone; untouched otherwise
 * Returns: ERR_OK; ERR_NOMEM. */
int receipt_open(const char *file, const char *address, struct receipt **out, struct textbuf *note);

/* Frees a receipt; NULL is accepted. */
void receipt_free(struct receipt *receipt);

/* True where the row of that mark was acknowledged. */
bool receipt_has(const struct receipt *receipt, const char *mark);

/* Forgets all marks; the file stays until the next save. */
void receipt_forget(struct receipt *receipt);

/* Adds a mark. Returns ERR_OK or ERR_NOMEM. */
int receipt_add(struct receipt *receipt, const char *mark);

/* Writes the file. Does nothing where none is kept.
 *   note  gets why it cannot be written, the first time; from then on none is kept
 * Returns: true where the file is on disk. */
bool receipt_save(struct receipt *receipt, struct textbuf *note);

/* The path of the file, NULL where none is kept. */
const char *receipt_path(const struct receipt *receipt);

#endif
