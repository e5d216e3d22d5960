/* SPDX-License-Identifier: MIT */
/* event_import.h - adds to an event file what a folder has beyond it, or another file of the event,
 * or a server that is followed. One owner of the store at a time. */
#ifndef CAIRN_EVENT_IMPORT_H
#define CAIRN_EVENT_IMPORT_H

#include <stdbool.h>

#include "event/event.h"

struct store;
struct problems;

/* What the caller has added in the transaction already, and the numbers of the new revision where
 * they are greater than the last one's; 0 for the next ones. */
struct import_begun {
    bool anything; /* something that the public can see */
    int64_t office, public_number;
};

/* Puts the folder's documents in force and adds readings and decisions that are not there.
 *   store     in a transaction, which is committed, or rolled back where nothing was added or
 *             anything went wrong
 *   folder    the event that the files make
 *   there     the event as stored; NULL where there is none
 *   files     what `folder` was read from: kept as uploads
 *   begun     NULL for nothing
 *   problems  gets what stands against it
 * Returns: ERR_OK; ERR_INPUT, and `problems` says why; ERR_IO, and store_message does; ERR_NOMEM.
 */
int event_import(struct store *store, const struct model *folder, const struct model *there,
                 const struct event_files *files, const struct import_begun *begun,
                 struct problems *problems);

#endif
