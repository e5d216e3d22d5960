/* SPDX-License-Identifier: MIT */
#include "live/write_queue.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "live/write_operations.h"
#include "live/writer_thread.h"
#include "store/store.h"
#include "system/data_dir.h"
#include "system/hard_limits.h"
#include "system/log.h"
#include "system/system_clock.h"

/* How often the folder is searched for new event files; and how long a start waits for files
 * that take long to open, before it serves the rest without them. One file alone is waited for a
 * day. */
enum { SCAN_EVERY_MS = 1000, START_WAIT_MS = 5000, START_WAIT_ALONE_MS = 86400000 };

struct write_queue {
    char *data_dir;
    char *only;        /* the one event to open; NULL for all */
    char *last_errors; /* of event files that cannot be opened; the scanning thread's own */
    struct served_event
        *events[LIMIT_EVENTS]; /* those that are open; added to by the scanning thread */
    atomic_int count;
    pthread_t thread; /* that scans: it starts the threads of events, and never waits for a file */
    bool started;
    pthread_mutex_t lock; /* all that follows but the figures */
    pthread_cond_t wake;
    struct writer_thread *threads[LIMIT_EVENTS]; /* changed by the scanning thread alone */
    int thread_count;
    bool tried; /* one of them has tried to open its file since the last wait */
    bool stopping;
    struct writer_options options;
    struct write_queue_figures figures;
};

int write_queue_count(const struct write_queue *queue) {
    return atomic_load(&queue->count);
}

struct served_event *write_queue_at(const struct write_queue *queue, int index) {
    return queue->events[index];
}

struct served_event *write_queue_find(const struct write_queue *queue, const char *slug) {
    int count = write_queue_count(queue);
    for (int i = 0; i < count; i++) {
        if (strcmp(queue->events[i]->slug, slug) == 0)
            return queue->events[i];
    }
    return NULL;
}

/* The thread of that slug, -1 where there is none. For the scanning thread, or under the lock. */
static int find_thread(struct write_queue *queue, const char *slug) {
    for (int i = 0; i < queue->thread_count; i++) {
        if (strcmp(writer_thread_served(queue->threads[i])->slug, slug) == 0)
            return i;
    }
    return -1;
}

bool write_queue_is_opening(struct write_queue *queue, const char *slug) {
    (void)pthread_mutex_lock(&queue->lock);
    int index = find_thread(queue, slug);
    bool opening = index >= 0 && writer_thread_state(queue->threads[index]) != WRITER_GONE &&
                   (!writer_thread_has_tried(queue->threads[index]) ||
                    writer_thread_state(queue->threads[index]) == WRITER_OPEN);
    (void)pthread_mutex_unlock(&queue->lock);
    return opening;
}

const struct write_queue_figures *write_queue_figures(const struct write_queue *queue) {
    return &queue->figures;
}

/* Starts the thread of an event that has none yet. */
static void start_event(struct write_queue *queue, const char *slug, struct textbuf *why) {
    struct writer_thread *thread = NULL;
    if (queue->thread_count == LIMIT_EVENTS)
        textbuf_printf(why, "%s: there are more than %d event files (%s)\n", slug, LIMIT_EVENTS,
                       queue->data_dir);
    else if ((thread = writer_thread_start(&queue->options, slug)) == NULL)
        textbuf_printf(why, "%s: there is no thread to be had\n", slug);
    if (thread == NULL)
        return;
    (void)pthread_mutex_lock(&queue->lock);
    queue->threads[queue->thread_count++] = thread;
    (void)pthread_mutex_unlock(&queue->lock);
}

/* Makes known what has come to be open, in the order of the threads. */
static void list_open(struct write_queue *queue) {
    for (int i = 0; i < queue->thread_count; i++) {
        struct served_event *served = writer_thread_served(queue->threads[i]);
        int used = write_queue_count(queue);
        if (writer_thread_state(queue->threads[i]) != WRITER_OPEN ||
            write_queue_find(queue, served->slug) != NULL)
            continue;
        queue->events[used] = served;
        atomic_store(&queue->count, used + 1);
    }
}

/* Lets go the threads of files that were removed before they could be opened. */
static void drop_gone(struct write_queue *queue) {
    for (int i = queue->thread_count - 1; i >= 0; i--) {
        struct writer_thread *thread = queue->threads[i];
        if (writer_thread_state(thread) != WRITER_GONE)
            continue;
        (void)pthread_mutex_lock(&queue->lock);
        queue->thread_count--;
        memmove(&queue->threads[i], &queue->threads[i + 1],
                (size_t)(queue->thread_count - i) * sizeof *queue->threads);
        (void)pthread_mutex_unlock(&queue->lock);
        writer_thread_free(thread);
    }
}

/* Starts threads for the event files that have none yet. */
static int scan(struct write_queue *queue, struct textbuf *why) {
    char **slugs = NULL;
    size_t count = 0;
    int err = data_dir_list(queue->data_dir, &slugs, &count);
    if (err != ERR_OK) {
        textbuf_printf(why, "%s: %s\n", queue->data_dir, strerror(errno));
        return err;
    }
    for (size_t i = 0; i < count; i++) {
        bool wanted = queue->only == NULL || strcmp(queue->only, slugs[i]) == 0;
        if (wanted && find_thread(queue, slugs[i]) < 0)
            start_event(queue, slugs[i], why);
        free(slugs[i]);
    }
    free(slugs);
    return ERR_OK;
}

int write_queue_read(const struct write_queue *queue, const struct served_event *served,
                     struct store **out) {
    char *path = data_dir_path(queue->data_dir, served->slug);
    enum store_mode mode = atomic_load(&served->copied) ? STORE_COPY : STORE_READ;
    int err = path == NULL ? ERR_NOMEM : store_open(path, mode, out, NULL);
    free(path);
    return err;
}

int write_queue_submit(struct write_queue *queue, struct write *write) {
    /* Of what may wait in all no event has more than a part; see writer_thread_submit. */
    int most = LIMIT_QUEUE - (write->operations->urgent ? 0 : LIMIT_QUEUE_KEPT);
    bool room = atomic_fetch_add(&queue->figures.waiting, 1) < most;
    int err = room ? writer_thread_submit(write->served->thread, write) : ERR_BUSY;
    if (err != ERR_OK)
        atomic_fetch_sub(&queue->figures.waiting, 1);
    return err;
}

void write_queue_refresh(struct served_event *served) {
    writer_thread_refresh(served->thread);
}

/* Files that cannot be opened are logged when they are others than before. */
static void log_changed(struct write_queue *queue, const struct textbuf *why) {
    if (strcmp(textbuf_text(why), queue->last_errors == NULL ? "" : queue->last_errors) == 0)
        return;
    log_errors(NULL, textbuf_text(why));
    free(queue->last_errors);
    queue->last_errors = strdup(textbuf_text(why));
}

/* Adds what stands in the way of each event that is not open. */
static void add_open_errors(struct write_queue *queue, struct textbuf *why) {
    for (int i = 0; i < queue->thread_count; i++)
        writer_thread_open_error(queue->threads[i], why);
}

/* Called by the thread of an event. */
static void tried(void *context) {
    struct write_queue *queue = context;
    (void)pthread_mutex_lock(&queue->lock);
    queue->tried = true;
    (void)pthread_cond_signal(&queue->wake);
    (void)pthread_mutex_unlock(&queue->lock);
}

/* Waits until a thread has tried to open its file, or the end has come. Returns false where neither
 * was before `until`. */
static bool wait_for_try(struct write_queue *queue, const struct timespec *until) {
    int rc = 0;
    (void)pthread_mutex_lock(&queue->lock);
    while (!queue->tried && !queue->stopping && rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&queue->wake, &queue->lock, until);
    queue->tried = false;
    (void)pthread_mutex_unlock(&queue->lock);
    return rc != ETIMEDOUT;
}

static bool is_stopping(struct write_queue *queue) {
    (void)pthread_mutex_lock(&queue->lock);
    bool stopping = queue->stopping;
    (void)pthread_mutex_unlock(&queue->lock);
    return stopping;
}

static void *scan_all(void *context) {
    struct write_queue *queue = context;
    while (!is_stopping(queue)) {
        struct timespec until = monotonic_deadline(INT64_C(1000) * SCAN_EVERY_MS);
        struct textbuf why = {0};
        while (wait_for_try(queue, &until) && !is_stopping(queue))
            list_open(queue);
        drop_gone(queue);
        if (!is_stopping(queue))
            (void)scan(queue, &why);
        add_open_errors(queue, &why);
        log_changed(queue, &why);
        textbuf_clear(&why);
    }
    return NULL;
}

/* Waits until every file was tried. */
static void wait_for_all(struct write_queue *queue, struct textbuf *why) {
    int64_t wait_ms = queue->only != NULL ? START_WAIT_ALONE_MS : START_WAIT_MS;
    struct timespec until = monotonic_deadline(1000 * wait_ms);
    bool in_time = true;
    for (int i = 0; i < queue->thread_count; i++) {
        while (in_time && !writer_thread_has_tried(queue->threads[i]))
            in_time = wait_for_try(queue, &until);
        if (!writer_thread_has_tried(queue->threads[i]))
            textbuf_printf(why, "%s: takes long to open, and is served once it is\n",
                           writer_thread_served(queue->threads[i])->slug);
    }
}

int write_queue_new(const char *data_dir, const char *only,
                    void (*published)(void *context, struct served_event *served,
                                      const struct snapshot *before, const struct snapshot *now),
                    void *context, struct textbuf *why, struct write_queue **out) {
    struct write_queue *queue = calloc(1, sizeof *queue);
    *out = NULL;
    if (queue == NULL)
        return ERR_NOMEM;
    queue->data_dir = strdup(data_dir);
    queue->only = only == NULL ? NULL : strdup(only);
    queue->options = (struct writer_options){
        queue->data_dir, {published, context, &queue->figures}, .tried = tried, .context = queue};
    (void)pthread_mutex_init(&queue->lock, NULL);
    monotonic_condition_init(&queue->wake);
    int err = queue->data_dir == NULL || (only != NULL && queue->only == NULL) ? ERR_NOMEM
                                                                               : scan(queue, why);
    if (err == ERR_OK) {
        wait_for_all(queue, why);
        list_open(queue);
        add_open_errors(queue, why);
        queue->last_errors = strdup(textbuf_text(why)); /* the caller reports it */
        queue->started = pthread_create(&queue->thread, NULL, scan_all, queue) == 0;
        err = queue->started ? ERR_OK : ERR_IO;
        if (!queue->started)
            textbuf_puts(why, "there is no thread to be had");
    }
    if (err == ERR_OK)
        *out = queue;
    else
        write_queue_free(queue);
    return err;
}

/* Asks all threads to end. */
static void stop_all(struct write_queue *queue) {
    (void)pthread_mutex_lock(&queue->lock);
    queue->stopping = true;
    (void)pthread_cond_signal(&queue->wake);
    for (int i = 0; i < queue->thread_count; i++)
        writer_thread_stop(queue->threads[i]);
    (void)pthread_mutex_unlock(&queue->lock);
}

void write_queue_stop(struct write_queue *queue) {
    /* The events end side by side, however long the scanning thread takes; what that has begun
     * meanwhile is asked afterwards. */
    stop_all(queue);
    if (queue->started)
        (void)pthread_join(queue->thread, NULL);
    queue->started = false;
    stop_all(queue);
    for (int i = 0; i < queue->thread_count; i++)
        writer_thread_join(queue->threads[i]);
}

void write_queue_free(struct write_queue *queue) {
    if (queue == NULL)
        return;
    write_queue_stop(queue);
    for (int i = 0; i < queue->thread_count; i++)
        writer_thread_free(queue->threads[i]);
    (void)pthread_cond_destroy(&queue->wake);
    (void)pthread_mutex_destroy(&queue->lock);
    free(queue->data_dir);
    free(queue->only);
    free(queue->last_errors);
    free(queue);
}
