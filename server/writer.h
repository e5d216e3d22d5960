/* SPDX-License-Identifier: MIT */
/* writer.h - one event's writing side: its store, its model, its current snapshot.
 * Everything here runs on the scorekeeper's thread. */
#ifndef CAIRN_WRITER_H
#define CAIRN_WRITER_H

#include "scorekeeper.h"

struct writer;

struct publisher {
    void (*published)(void *context, struct held *held, const struct snapshot *before,
                      const struct snapshot *now);
    void *context;
    struct scorekeeper_figures *figures;
};

/* Opens an event and publishes its first snapshot. What is wrong goes to `why`, a line. */
int writer_open(const char *data_dir, const char *slug, const struct publisher *publisher,
                struct writer **out, struct textbuf *why);

/* Empties the slot and closes. */
void writer_close(struct writer *writer);

/* What reading threads see of the event. */
struct held *writer_held(struct writer *writer);

/* Does a list of jobs of this event: one transaction, one revision, then every `done`. */
void writer_work(struct writer *writer, struct job *jobs);

/* Takes over what another process changed in the file: keys, or whole imports. */
void writer_look(struct writer *writer);

#endif
