/* SPDX-License-Identifier: MIT */
#include "live/writer_thread.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "live/write_operations.h"
#include "system/data_dir.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

/* ms. How often the thread checks whether somebody else changed its file (a key on the command
 * line, an import); how long writer_thread_refresh waits; how often a file that cannot be opened is
 * tried again. A batch of writes checks each time too. */
enum { REFRESH_EVERY_MS = 100, REFRESH_WAIT_MS = 500, TRY_EVERY_MS = 1000 };

/* us. Clients that were just answered send their next reading within a moment. Where a commit takes
 * long it pays to wait for them before the next one: without that, two halves of the clients take
 * turns, each waiting for the other's commit. After a batch that took longer than GATHER_FROM_US
 * the thread waits for 1/GATHER_SHARE of that time, at most GATHER_MOST_US. */
enum { GATHER_FROM_US = 2000, GATHER_SHARE = 8, GATHER_MOST_US = 2000 };

/* Small, since there may be LIMIT_EVENTS threads: the deepest document that the reader of JSON
 * takes needs a sixth of it. Sanitizers need far more. */
#if defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
enum { STACK_BYTES = 8 << 20 };
#else
enum { STACK_BYTES = 1 << 20 };
#endif

struct writer_thread {
    struct served_event served;
    const struct writer_options *options;
    struct writer *writer; /* the thread's own once it has opened the file */
    pthread_t thread;
    bool joined;
    _Atomic(enum writer_state) state;
    atomic_bool tried;
    pthread_mutex_t lock; /* all that follows */
    pthread_cond_t wake;
    pthread_cond_t refreshed;
    struct textbuf why; /* the file could not be opened */
    int64_t refreshes_wanted, refreshes_done;
    struct write *queue;
    struct write **tail;
    int queued;
    int wake_at;      /* writes queued for which the thread wants to be woken */
    int batch;        /* writes of the last batch, */
    int64_t batch_us; /* how long they took, */
    int expected;     /* and how many may be queued soon, since they are answered */
    bool stopping;
};

struct served_event *writer_thread_served(struct writer_thread *t) {
    return &t->served;
}

enum writer_state writer_thread_state(const struct writer_thread *t) {
    return atomic_load(&t->state);
}

bool writer_thread_has_tried(const struct writer_thread *t) {
    return atomic_load(&t->tried);
}

void writer_thread_open_error(struct writer_thread *t, struct textbuf *why) {
    (void)pthread_mutex_lock(&t->lock);
    textbuf_puts(why, textbuf_text(&t->why));
    (void)pthread_mutex_unlock(&t->lock);
}

/* Queues a write of which there is room in all. Returns as writer_thread_submit. */
static int put(struct writer_thread *t, struct write *write) {
    int err = ERR_OK;
    (void)pthread_mutex_lock(&t->lock);
    /* Other writes leave the last places to readings. */
    int most = LIMIT_QUEUE_EVENT - (write->operations->urgent ? 0 : LIMIT_QUEUE_KEPT);
    if (t->stopping || atomic_load(&t->served.waiting) >= most) {
        err = ERR_BUSY;
    } else {
        write->next = NULL;
        *t->tail = write;
        t->tail = &write->next;
        atomic_fetch_add(&t->served.waiting, 1);
        if (++t->queued >= t->wake_at)
            (void)pthread_cond_signal(&t->wake);
    }
    (void)pthread_mutex_unlock(&t->lock);
    return err;
}

int writer_thread_submit(struct writer_thread *t, struct write *write) {
    /* Of what may wait in all no event has more than a part; see put. */
    atomic_int *waiting = &t->options->publisher.figures->waiting;
    int most = LIMIT_QUEUE - (write->operations->urgent ? 0 : LIMIT_QUEUE_KEPT);
    int err = atomic_fetch_add(waiting, 1) < most ? put(t, write) : ERR_BUSY;
    if (err != ERR_OK)
        atomic_fetch_sub(waiting, 1);
    return err;
}

void writer_thread_refresh(struct writer_thread *t) {
    struct timespec until = monotonic_deadline(INT64_C(1000) * REFRESH_WAIT_MS);
    (void)pthread_mutex_lock(&t->lock);
    int64_t mine = ++t->refreshes_wanted;
    /* While the disk does not answer, waiting is in vain. */
    int64_t since = atomic_load(&t->served.busy_since_ms);
    int rc =
        since != 0 && monotonic_microseconds() / 1000 - since > REFRESH_WAIT_MS ? ETIMEDOUT : 0;
    (void)pthread_cond_signal(&t->wake);
    while (t->refreshes_done < mine && !t->stopping && rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&t->refreshed, &t->lock, &until);
    (void)pthread_mutex_unlock(&t->lock);
}

/* Waits, under the lock, until `count` writes are queued, a refresh is wanted or the end has come;
 * for so many microseconds at most. */
static void wait_for_writes(struct writer_thread *t, int count, int64_t us) {
    struct timespec until = monotonic_deadline(us);
    int rc = 0;
    t->wake_at = count;
    while (t->queued < count && !t->stopping && t->refreshes_wanted == t->refreshes_done &&
           rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&t->wake, &t->lock, &until);
}

/* All that is queued, or NULL after a while in which nothing came.
 *   wanted  gets how many refreshes were wanted by now */
static struct write *take_all(struct writer_thread *t, bool *stop, int64_t *wanted) {
    (void)pthread_mutex_lock(&t->lock);
    wait_for_writes(t, 1, INT64_C(1000) * REFRESH_EVERY_MS);
    if (t->queued > 0 && t->batch > 1 && t->batch_us > GATHER_FROM_US) {
        int64_t us = t->batch_us / GATHER_SHARE;
        wait_for_writes(t, t->expected, us < GATHER_MOST_US ? us : GATHER_MOST_US);
    }
    struct write *writes = t->queue;
    t->queue = NULL;
    t->tail = &t->queue;
    t->batch = t->queued;
    t->queued = 0;
    *stop = t->stopping && writes == NULL;
    *wanted = t->refreshes_wanted;
    (void)pthread_mutex_unlock(&t->lock);
    return writes;
}

/* Loads what others changed in the file, and wakes those who wait for that. It counts as busy: a
 * disk that does not answer a refresh would not answer a write either. */
static void refresh(struct writer_thread *t, int64_t wanted) {
    atomic_store(&t->served.busy_since_ms, monotonic_microseconds() / 1000);
    writer_refresh(t->writer);
    atomic_store(&t->served.busy_since_ms, 0);
    (void)pthread_mutex_lock(&t->lock);
    t->refreshes_done = wanted;
    (void)pthread_cond_broadcast(&t->refreshed);
    (void)pthread_mutex_unlock(&t->lock);
}

static void write_all(struct writer_thread *t) {
    int64_t refreshed = 0; /* on the monotonic clock */
    for (bool stop = false; !stop;) {
        int64_t wanted = 0;
        struct write *writes = take_all(t, &stop, &wanted);
        int64_t from = monotonic_microseconds();
        atomic_store(&t->served.busy_since_ms, from / 1000);
        writer_work(t->writer, writes);
        atomic_store(&t->served.busy_since_ms, 0);
        (void)pthread_mutex_lock(&t->lock);
        t->batch_us = monotonic_microseconds() - from;
        t->expected = t->batch + t->queued;
        bool is_wanted = wanted != t->refreshes_done;
        (void)pthread_mutex_unlock(&t->lock);
        /* Under load a refresh after every batch would be a good part of the work. */
        if (!stop && (is_wanted || from - refreshed >= INT64_C(1000) * REFRESH_EVERY_MS)) {
            refreshed = from;
            refresh(t, wanted);
        }
    }
}

/* Waits before the next try to open the file. Returns false where the thread is to end. */
static bool wait_for_try(struct writer_thread *t) {
    struct timespec until = monotonic_deadline(INT64_C(1000) * TRY_EVERY_MS);
    int rc = 0;
    (void)pthread_mutex_lock(&t->lock);
    while (!t->stopping && rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&t->wake, &t->lock, &until);
    bool stopping = t->stopping;
    (void)pthread_mutex_unlock(&t->lock);
    return !stopping;
}

static bool is_there(const struct writer_thread *t) {
    char *path = data_dir_path(t->options->data_dir, t->served.slug);
    bool there = path == NULL || access(path, F_OK) == 0 || errno != ENOENT;
    free(path);
    return there;
}

/* One try. Tells what came of it, and returns the same. */
static enum writer_state try_to_open(struct writer_thread *t) {
    struct textbuf why = {0};
    enum writer_state state = WRITER_OPEN;
    if (writer_open(t->options->data_dir, &t->served, &t->options->publisher, &t->writer, &why) !=
        ERR_OK)
        state = is_there(t) ? WRITER_OPENING : WRITER_GONE;
    (void)pthread_mutex_lock(&t->lock);
    textbuf_reset(&t->why);
    if (state == WRITER_OPENING)
        textbuf_puts(&t->why, textbuf_text(&why));
    (void)pthread_mutex_unlock(&t->lock);
    atomic_store(&t->state, state);
    atomic_store(&t->tried, true);
    textbuf_clear(&why);
    t->options->tried(t->options->context);
    return state;
}

static void *run(void *context) {
    struct writer_thread *t = context;
    enum writer_state state = try_to_open(t);
    while (state == WRITER_OPENING && wait_for_try(t))
        state = try_to_open(t);
    if (state == WRITER_OPEN) {
        write_all(t);
        /* Here and not in writer_thread_free, so that many events are checkpointed and closed at
         * the same time. */
        writer_end(t->writer);
    }
    return NULL;
}

static bool start(struct writer_thread *t) {
    pthread_attr_t attributes;
    if (pthread_attr_init(&attributes) != 0)
        return false;
    (void)pthread_attr_setstacksize(&attributes, STACK_BYTES);
    bool started = pthread_create(&t->thread, &attributes, run, t) == 0;
    (void)pthread_attr_destroy(&attributes);
    return started;
}

struct writer_thread *writer_thread_start(const struct writer_options *options, const char *slug) {
    struct writer_thread *t = calloc(1, sizeof *t);
    if (t == NULL)
        return NULL;
    memcpy(t->served.slug, slug, strlen(slug) + 1);
    t->served.thread = t;
    t->options = options;
    t->tail = &t->queue;
    (void)pthread_mutex_init(&t->lock, NULL);
    (void)pthread_mutex_init(&t->served.damage_lock, NULL);
    monotonic_condition_init(&t->wake);
    monotonic_condition_init(&t->refreshed);
    if (!start(t)) {
        t->joined = true;
        writer_thread_free(t);
        return NULL;
    }
    return t;
}

void writer_thread_stop(struct writer_thread *t) {
    (void)pthread_mutex_lock(&t->lock);
    t->stopping = true;
    (void)pthread_cond_signal(&t->wake);
    (void)pthread_cond_broadcast(&t->refreshed);
    (void)pthread_mutex_unlock(&t->lock);
}

void writer_thread_join(struct writer_thread *t) {
    if (!t->joined)
        (void)pthread_join(t->thread, NULL);
    t->joined = true;
}

void writer_thread_free(struct writer_thread *t) {
    if (t == NULL)
        return;
    writer_thread_join(t);
    writer_close(t->writer);
    (void)pthread_cond_destroy(&t->wake);
    (void)pthread_cond_destroy(&t->refreshed);
    (void)pthread_mutex_destroy(&t->lock);
    (void)pthread_mutex_destroy(&t->served.damage_lock);
    damaged_facts_clear(&t->served.damage);
    textbuf_clear(&t->why);
    free(t);
}
