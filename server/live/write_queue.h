/* SPDX-License-Identifier: MIT */
/* write_queue.h - the events of a data folder, and the writes to them. Each event has a thread of
 * its own, which alone owns its store and the event in memory: writes are queued to it; those that
 * wait together are committed together, scored together and published as one revision; then each is
 * answered. Reading threads only ever see snapshots. */
#ifndef CAIRN_WRITE_QUEUE_H
#define CAIRN_WRITE_QUEUE_H

#include <stdatomic.h>
#include <stdbool.h>

#include "base/textbuf.h"
#include "live/row_refusal.h"
#include "live/served_event.h"
#include "live/write.h"
#include "system/histogram.h"

struct store;
struct write_queue;

/* Sorts of writes as they are counted. */
enum upload_sort { UPLOAD_READINGS, UPLOAD_DECISIONS, UPLOAD_OTHER, UPLOAD_SORT_COUNT };

/* Figures for /metrics, counted since the start. */
struct write_queue_figures {
    atomic_llong uploads[UPLOAD_SORT_COUNT]; /* writes that were taken */
    atomic_llong accepted, duplicates;
    struct row_refusals refused;
    atomic_llong failures;
    struct histogram commit, publish; /* to the disk; scored and swapped in */
    atomic_int waiting;
};

/* Starts the thread of every event file of a folder, and waits until each is open: five seconds at
 * most, unless `only` names one. Those that take longer are served once they are open, see
 * write_queue_is_opening.
 *   only       a slug: that event alone; NULL for all
 *   published  called by an event's thread after a snapshot was swapped in, with the one before
 *              (NULL at first) and the new one, both borrowed; may be NULL
 *   why        gets what could not be opened, a line each; other events are served all the same
 * Returns: ERR_OK; ERR_IO where the folder cannot be read; ERR_NOMEM. */
int write_queue_new(const char *data_dir, const char *only,
                    void (*published)(void *context, struct served_event *served,
                                      const struct snapshot *before, const struct snapshot *now),
                    void *context, struct textbuf *why, struct write_queue **out);

/* Finishes what is queued for every event and ends their threads; later writes are refused, reads
 * go on. */
void write_queue_stop(struct write_queue *queue);

/* Stops, and frees everything. No other thread may use it any more. NULL is accepted. */
void write_queue_free(struct write_queue *queue);

/* The event of that slug, NULL where there is none. Any thread. */
struct served_event *write_queue_find(const struct write_queue *queue, const char *slug);

/* Events in the order they were found. Any thread. */
int write_queue_count(const struct write_queue *queue);
struct served_event *write_queue_at(const struct write_queue *queue, int index);

/* True for an event whose file is being opened, so that it will soon be served. Any thread. */
bool write_queue_is_opening(struct write_queue *queue, const char *slug);

/* Asks the event's thread to load what another process changed in the event's file, and waits for
 * it, half a second at most. Any thread. */
void write_queue_refresh(struct served_event *served);

/* Opens the file of an event to read what no snapshot holds; the caller closes the store. Any
 * thread. Returns as store_open. */
int write_queue_read(const struct write_queue *queue, const struct served_event *served,
                     struct store **out);

/* Queues a write. Returns ERR_OK, and `done` will be called; ERR_BUSY where too many wait, in
 * all or for this event, or the write queue is stopping. Any thread. */
int write_queue_submit(struct write_queue *queue, struct write *write);

/* The figures; they go on counting. */
const struct write_queue_figures *write_queue_figures(const struct write_queue *queue);

#endif
