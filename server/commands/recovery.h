/* SPDX-License-Identifier: MIT */
/* recovery.h - checking an event file before `cairn restore` or `cairn promote` makes it the one
 * that counts, and naming damaged facts, for these and for export, backup and merge. */
#ifndef CAIRN_RECOVERY_H
#define CAIRN_RECOVERY_H

#include "store/store.h"

/* What a checked file holds. */
struct recovered {
    int readings, decisions;
    struct stored_revision last;
    struct store_epoch epoch;
};

/* Loads the event and checks every fact.
 *   path    names the file in messages on standard error
 *   slug    that it must be of
 *   anyway  damaged facts are reported, and the file is taken all the same
 * Returns: ERR_OK; ERR_INPUT where the file is not to be used, reported on standard error; ERR_IO,
 * ERR_BUSY, ERR_NOMEM. */
int recovery_check(struct store *store, const char *path, const char *slug, bool anyway,
                   struct recovered *out);

/* Prints on standard error each fact that does not read or is damaged, a line each.
 *   what  begins each line
 * Returns how many there are. */
int64_t recovery_print_damage(const struct store *store, const char *what);

/* Appends "13877 readings, 57 decisions, revision 213, last changed 2027-05-20T10:11:12Z". */
void recovery_write(struct textbuf *b, const struct recovered *found);

#endif
