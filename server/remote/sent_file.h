/* SPDX-License-Identifier: MIT */
/* sent_file.h - the small file FILE.sent: which rows of FILE a server has acknowledged.
 * It spares sending them again. Losing it does no harm, since a reading sent twice counts once;
 * so whatever is wrong with it is reported, and then sending goes on.
 *
 * Text: a first line of its own, a line with the hash of the server's address, then the digest of a
 * row on each line. It is replaced as a whole, synced to disk, so that a crash leaves the old one
 * or the new one. */
#ifndef CAIRN_SENT_FILE_H
#define CAIRN_SENT_FILE_H

#include <stdbool.h>

struct sent_file;
struct textbuf;

/* Reads FILE.sent, or begins an empty one.
 *   file     the path of FILE; NULL keeps no file
 *   address  where the rows go: digests under another address are forgotten
 *   out      for the caller, see sent_file_free
 *   note     gets what a person should know: it belongs to another address, or is no such file and
 *            so is left alone; untouched otherwise
 * Returns: ERR_OK; ERR_NOMEM. */
int sent_file_open(const char *file, const char *address, struct sent_file **out,
                   struct textbuf *note);

/* Frees it; NULL is accepted. */
void sent_file_free(struct sent_file *sent_file);

/* True where the row of that digest was acknowledged. */
bool sent_file_has(const struct sent_file *sent_file, const char *digest);

/* Forgets all digests; the file stays until the next save. */
void sent_file_forget(struct sent_file *sent_file);

/* Adds a digest. Returns ERR_OK or ERR_NOMEM. */
int sent_file_add(struct sent_file *sent_file, const char *digest);

/* Writes the file. Does nothing where none is kept.
 *   note  gets why it cannot be written, the first time; from then on none is kept
 * Returns: true where the file is on disk. */
bool sent_file_save(struct sent_file *sent_file, struct textbuf *note);

/* The path of the file, NULL where none is kept. */
const char *sent_file_path(const struct sent_file *sent_file);

#endif
