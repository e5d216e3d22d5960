/* SPDX-License-Identifier: MIT */
/* writer_thread.h - the thread of an event: it opens the event file, does the writes that are
 * queued for it, and loads what other processes changed in it. Each event file has one of its own,
 * so that a slow disk or a long import holds up one event only. */
#ifndef CAIRN_WRITER_THREAD_H
#define CAIRN_WRITER_THREAD_H

#include "live/writer.h"

/* What the threads of all events have in common. Borrowed while any of them lives. */
struct writer_options {
    const char *data_dir;
    struct publisher publisher;
    /* Called by an event's thread whenever it has tried to open its file. */
    void (*tried)(void *context);
    void *context;
};

enum writer_state {
    WRITER_OPENING, /* not open yet; tried again once a second */
    WRITER_OPEN,    /* a snapshot is published */
    WRITER_GONE     /* the file was removed before it could be opened, and the thread has ended */
};

struct writer_thread;

/* Starts the thread of an event, which begins by opening the file. NULL where memory is out or no
 * thread can be started. The rest is for one other thread, if not said otherwise. */
struct writer_thread *writer_thread_start(const struct writer_options *options, const char *slug);

/* What reading threads see of the event. Any thread. */
struct served_event *writer_thread_served(struct writer_thread *thread);

/* Its state. Any thread. */
enum writer_state writer_thread_state(const struct writer_thread *thread);

/* True once it has tried to open the file. Any thread. */
bool writer_thread_has_tried(const struct writer_thread *thread);

/* Appends why the file could not be opened the last time, a line; nothing where it could. Any
 * thread. */
void writer_thread_open_error(struct writer_thread *thread, struct textbuf *why);

/* Queues a write; see write_submit. Any thread. */
int writer_thread_submit(struct writer_thread *thread, struct write *write);

/* Asks it to load what another process changed, and waits for it, half a second at most; not at all
 * where a batch has been on its way to the disk for longer than that. Any thread. */
void writer_thread_refresh(struct writer_thread *thread);

/* Asks it to finish what is queued, to close the file and to end; does not wait. Later writes are
 * refused, reads go on. */
void writer_thread_stop(struct writer_thread *thread);

/* Waits for the end of a thread that was asked to end, or whose file is gone. */
void writer_thread_join(struct writer_thread *thread);

/* Waits likewise, and frees it with its snapshot. NULL is accepted. */
void writer_thread_free(struct writer_thread *thread);

#endif
