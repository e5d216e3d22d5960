/* SPDX-License-Identifier: MIT */
/* served_events.h - the events of a data folder that are served: found in the folder, opened by a
 * thread each (writer_thread.h), and listed here once they are open. Files that are added to the
 * folder later are found within a second or so. */
#ifndef CAIRN_SERVED_EVENTS_H
#define CAIRN_SERVED_EVENTS_H

#include <stdbool.h>

#include "base/textbuf.h"
#include "live/served_event.h"
#include "live/write_figures.h"

struct store;
struct served_events;

/* Starts the thread of every event file of a folder, and waits until each is open: five seconds at
 * most, unless `only` names one. Those that take longer are served once they are open, see
 * served_events_is_opening.
 *   only       a slug: that event alone; NULL for all
 *   published  called by an event's thread after a snapshot was swapped in, with the one before
 *              (NULL at first) and the new one, both borrowed; may be NULL
 *   why        gets what could not be opened, a line each; other events are served all the same
 * Returns: ERR_OK; ERR_IO where the folder cannot be read; ERR_NOMEM. */
int served_events_new(const char *data_dir, const char *only,
                      void (*published)(void *context, struct served_event *served,
                                        const struct snapshot *before, const struct snapshot *now),
                      void *context, struct textbuf *why, struct served_events **out);

/* Finishes what is queued for every event and ends their threads; later writes are refused, reads
 * go on. */
void served_events_stop(struct served_events *events);

/* Stops, and frees everything. No other thread may use it any more. NULL is accepted. */
void served_events_free(struct served_events *events);

/* The event of that slug, NULL where there is none. Any thread. */
struct served_event *served_events_find(const struct served_events *events, const char *slug);

/* Events in the order they were found. Any thread. */
int served_events_count(const struct served_events *events);
struct served_event *served_events_at(const struct served_events *events, int index);

/* True for an event whose file is being opened, so that it will soon be served. Any thread. */
bool served_events_is_opening(struct served_events *events, const char *slug);

/* Opens the file of an event to read what no snapshot holds; the caller closes the store. Any
 * thread. Returns as store_open. */
int served_events_open_store(const struct served_events *events, const struct served_event *served,
                             struct store **out);

/* The figures of their writes; they go on counting. */
const struct write_figures *served_events_figures(const struct served_events *events);

#endif
