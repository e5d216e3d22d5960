/* SPDX-License-Identifier: MIT */
/* writer.h - one event's writing side: its store, its model, its current snapshot.
 * Everything here runs on the event's own thread; see writer_thread.h. */
#ifndef CAIRN_WRITER_H
#define CAIRN_WRITER_H

#include "live/write_queue.h"

struct writer;

struct publisher {
    void (*published)(void *context, struct served_event *served, const struct snapshot *before,
                      const struct snapshot *now);
    void *context;
    struct write_queue_figures *figures;
};

/* Opens an event and publishes its first snapshot.
 *   held  what readers see of it, its slug filled in; borrowed until writer_close
 *   why   gets what is wrong, a line */
int writer_open(const char *data_dir, struct served_event *served,
                const struct publisher *publisher, struct writer **out, struct textbuf *why);

/* Closes the file. Nothing more can be written; the last snapshot stays for readers. */
void writer_end(struct writer *writer);

/* Empties the slot, and closes what is open. NULL is accepted. */
void writer_close(struct writer *writer);

/* Does a list of writes of this event: one transaction, one revision, then every `done`. */
void writer_work(struct writer *writer, struct write *writes);

/* Takes over what another process changed in the file: keys, or whole imports. */
void writer_refresh(struct writer *writer);

#endif
