/* SPDX-License-Identifier: MIT */
/* writer.h - the one writer of an event: its store, its model, its current snapshot. All functions
 * are for the event's own thread; see writer_thread.h. */
#ifndef CAIRN_WRITER_H
#define CAIRN_WRITER_H

#include "live/served_event.h"
#include "live/write.h"
#include "live/write_figures.h"

struct writer;

/* Who is told of new snapshots, and where the writer counts; shared by all events. */
struct publisher {
    void (*published)(void *context, struct served_event *served, const struct snapshot *before,
                      const struct snapshot *now);
    void *context;
    struct write_figures *figures;
};

/* Opens an event and publishes its first snapshot.
 *   served     what readers see of it, with its slug; borrowed until writer_close
 *   publisher  borrowed until writer_close
 *   why        gets what is wrong, a line
 * Returns: ERR_OK; as store_open and store_load_event; ERR_NOMEM. */
int writer_open(const char *data_dir, struct served_event *served,
                const struct publisher *publisher, struct writer **out, struct textbuf *why);

/* Closes the file. Nothing more can be written; the last snapshot stays for readers. */
void writer_end(struct writer *writer);

/* Empties the slot, and closes what is open. NULL is accepted. */
void writer_close(struct writer *writer);

/* Does a list of writes of this event, those that may be batched in one transaction and as one
 * revision, and calls every `done`. NULL is an empty list. */
void writer_work(struct writer *writer, struct write *writes);

/* Loads what another process changed in the file: keys, or whole imports. */
void writer_refresh(struct writer *writer);

#endif
