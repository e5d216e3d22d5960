/* SPDX-License-Identifier: MIT */
/* write_queue.h - the events of a data folder, and the writes to them. Each event has a thread of
 * its own, which alone owns its store and the event in memory: writes are queued to it; those that
 * wait together are committed together, scored together and published as one revision; then each is
 * answered. Reading threads only ever see snapshots. */
#ifndef CAIRN_WRITE_QUEUE_H
#define CAIRN_WRITE_QUEUE_H

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#include "base/textbuf.h"
#include "live/snapshot.h"
#include "live/upload.h"
#include "store/keys.h"
#include "store/write_state.h"
#include "system/histogram.h"
#include "system/refusal.h"

struct write_queue;
struct writer_thread;

/* An event that the server holds; never given back while the write queue lives. */
struct served_event {
    char slug[65];
    struct snapshot_slot slot;
    atomic_int waiting;           /* writes that were queued and are not answered yet */
    struct writer_thread *thread; /* for the write queue */
    atomic_llong busy_since_ms;   /* when the batch or look that it is at began
                                     (monotonic_microseconds / 1000); 0: none. Set by the thread. */
    atomic_int writes;            /* an enum write_state */
    atomic_llong epoch;           /* of the file, see store_last_epoch */
    atomic_bool copied;           /* the file was read into memory: it is to be read so by all */
    pthread_mutex_t damage_lock;
    struct damage
        damage;          /* under its lock: facts that do not read, or are not as they were taken */
    atomic_bool looking; /* somebody waits for a look, see write_queue_refresh */
};

/* Which facts are damaged; `out` is the caller's to clear. Any thread. */
void served_event_damage(struct served_event *served, struct damage *out);
/* Takes what was found. The event's thread alone. */
void served_event_set_damage(struct served_event *served, struct damage *found);

enum write_kind {
    WRITE_READINGS,
    WRITE_DECISIONS,
    WRITE_ENTRIES,
    WRITE_RULES,
    WRITE_STARTS, /* makes the start list of day `number`, from 0, by the plan in the body */
    WRITE_NOTICE,
    WRITE_ENQUIRY,      /* opens a case */
    WRITE_ANSWER,       /* answers the one of that `number` */
    WRITE_KEY,          /* makes `new_key` */
    WRITE_REVOKE_KEY,   /* the one of that `number` */
    WRITE_CREW_ENQUIRY, /* opens a case for the crew whose code `crew` holds */
    WRITE_RENEW_CODE,   /* of the car of that `number` */
    WRITE_ACKNOWLEDGE   /* the case that `looked` tells of was looked at */
};

enum write_result {
    WRITE_DONE,         /* on disk and published */
    WRITE_UNAUTHORISED, /* the key was revoked meanwhile */
    WRITE_STALE,        /* somebody else was first: what `if_match` names is no longer in force */
    WRITE_NOT_YET,      /* something stands in the way: `why`, and nothing was changed */
    WRITE_REFUSED,      /* a document that is wrong: `why`, and nothing was changed */
    WRITE_FAILED        /* the machine: nothing was changed */
};

/* A row that was not taken. */
struct refused_row {
    size_t row; /* from 1 */
    enum row_refusal class;
    char *id;
    char *reason;
};

/* A key that a write is to make. */
struct new_key {
    bool organiser;
    const char *points; /* borrowed until done */
    const char *label;
    char text[KEY_TEXT_LEN + 1];
};

/* What a crew asks, with its code in place of a key. */
struct crew_enquiry {
    int64_t car;                     /* its number */
    const char *code, *point, *text; /* borrowed until done */
};

/* The doubtful thing that somebody looked at. */
struct looked_at {
    char car[8]; /* its number, "" where it names none */
    struct textbuf point, title;
};

/* One write. The caller makes it, submits it, and frees it with write_free after `done`. */
struct write {
    struct write *next;
    struct served_event *served;
    enum write_kind kind;
    unsigned char key_hash[32];
    const char *media_type; /* as sent; borrowed until done */
    const char *if_match;   /* as sent, "" where not; borrowed until done */
    char *body;             /* owned */
    size_t len;
    struct upload upload;              /* rows of readings, decisions, or the one row of a notice */
    void (*done)(struct write *write); /* called once, by the event's thread */
    void *context;

    enum write_result result;
    int64_t accepted;
    int64_t duplicates;
    struct refused_row *refused;
    size_t refused_count;
    struct textbuf why; /* problems of a document, a line each; or the failure */
    int64_t revision;   /* the office's; the public's for a timekeeper */
    bool by_timekeeper;
    int64_t number;      /* of a notice or a key */
    struct textbuf told; /* of a start list: the answer, but for its revision */
    struct new_key new_key;
    struct looked_at looked;
    struct change_note note; /* of a document; borrowed until done, NULL where there is none */
    struct crew_enquiry crew;
    int64_t at_ms;  /* when a crew's case was opened */
    int64_t serial; /* of a renewed code */
};

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

/* Starts the thread of every event file of a folder, and waits until each was opened, at most some
 * seconds where there may be others: those are served meanwhile, see write_queue_is_opening.
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

/* True for an event whose file is just being opened, so that it is served in a moment. Any thread.
 */
bool write_queue_is_opening(struct write_queue *queue, const char *slug);

/* Asks for a look at what another process changed in the event's file, and waits for it, a moment
 * at most. Any thread. */
void write_queue_refresh(struct served_event *served);

/* Why writes to an event fail or hang, as far as is known: a few words that live for ever, without
 * a period. NULL where they work. Never waits; any thread. */
const char *served_event_trouble(const struct served_event *served);

/* Opens the file of an event for a look at what no snapshot holds; the caller closes the store. Any
 * thread. Returns as store_open. */
int write_queue_read(const struct write_queue *queue, const struct served_event *served,
                     struct store **out);

/* Queues a write. Returns ERR_OK, and `done` will be called; ERR_BUSY where too many wait, in
 * all or for this event, or the write queue is stopping. Any thread. */
int write_queue_submit(struct write_queue *queue, struct write *write);

/* The figures; they go on counting. */
const struct write_queue_figures *write_queue_figures(const struct write_queue *queue);

/* Frees a write that is done, or was never submitted; NULL is accepted. */
void write_free(struct write *write);

#endif
