/* SPDX-License-Identifier: MIT */
#include "live/served_events.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
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

struct served_events {
    char *data_dir;
    char *only;        /* the one event to open; NULL for all */
    char *last_errors; /* of event files that cannot be opened; the scanning thread's own */
    struct served_event *open[LIMIT_EVENTS]; /* added to by the scanning thread */
    atomic_int open_count;
    pthread_t thread; /* that scans: it starts the threads of events, and never waits for a file */
    bool started;
    pthread_mutex_t lock; /* all that follows but the figures */
    pthread_cond_t wake;
    struct writer_thread *threads[LIMIT_EVENTS]; /* changed by the scanning thread alone */
    int thread_count;
    bool tried; /* one of them has tried to open its file since the last wait */
    bool stopping;
    struct writer_options options;
    struct write_figures figures;
};

int served_events_count(const struct served_events *events) {
    return atomic_load(&events->open_count);
}

struct served_event *served_events_at(const struct served_events *events, int index) {
    return events->open[index];
}

struct served_event *served_events_find(const struct served_events *events, const char *slug) {
    int count = served_events_count(events);
    for (int i = 0; i < count; i++) {
        if (strcmp(events->open[i]->slug, slug) == 0)
            return events->open[i];
    }
    return NULL;
}

/* The thread of that slug, -1 where there is none. For the scanning thread, or under the lock. */
static int find_thread(struct served_events *events, const char *slug) {
    for (int i = 0; i < events->thread_count; i++) {
        if (strcmp(writer_thread_served(events->threads[i])->slug, slug) == 0)
            return i;
    }
    return -1;
}

bool served_events_is_opening(struct served_events *events, const char *slug) {
    (void)pthread_mutex_lock(&events->lock);
    int index = find_thread(events, slug);
    bool opening = index >= 0 && writer_thread_state(events->threads[index]) != WRITER_GONE &&
                   (!writer_thread_has_tried(events->threads[index]) ||
                    writer_thread_state(events->threads[index]) == WRITER_OPEN);
    (void)pthread_mutex_unlock(&events->lock);
    return opening;
}

const struct write_figures *served_events_figures(const struct served_events *events) {
    return &events->figures;
}

/* Starts the thread of an event that has none yet. */
static void start_event(struct served_events *events, const char *slug, struct textbuf *why) {
    struct writer_thread *thread = NULL;
    if (events->thread_count == LIMIT_EVENTS)
        textbuf_printf(why, "%s: there are more than %d event files (%s)\n", slug, LIMIT_EVENTS,
                       events->data_dir);
    else if ((thread = writer_thread_start(&events->options, slug)) == NULL)
        textbuf_printf(why, "%s: there is no thread to be had\n", slug);
    if (thread == NULL)
        return;
    (void)pthread_mutex_lock(&events->lock);
    events->threads[events->thread_count++] = thread;
    (void)pthread_mutex_unlock(&events->lock);
}

/* Makes known what has come to be open, in the order of the threads. */
static void list_open(struct served_events *events) {
    for (int i = 0; i < events->thread_count; i++) {
        struct served_event *served = writer_thread_served(events->threads[i]);
        int used = served_events_count(events);
        if (writer_thread_state(events->threads[i]) != WRITER_OPEN ||
            served_events_find(events, served->slug) != NULL)
            continue;
        events->open[used] = served;
        atomic_store(&events->open_count, used + 1);
    }
}

/* Lets go the threads of files that were removed before they could be opened. */
static void drop_gone(struct served_events *events) {
    for (int i = events->thread_count - 1; i >= 0; i--) {
        struct writer_thread *thread = events->threads[i];
        if (writer_thread_state(thread) != WRITER_GONE)
            continue;
        (void)pthread_mutex_lock(&events->lock);
        events->thread_count--;
        memmove(&events->threads[i], &events->threads[i + 1],
                (size_t)(events->thread_count - i) * sizeof *events->threads);
        (void)pthread_mutex_unlock(&events->lock);
        writer_thread_free(thread);
    }
}

/* Starts threads for the event files that have none yet. */
static int scan(struct served_events *events, struct textbuf *why) {
    char **slugs = NULL;
    size_t count = 0;
    int err = data_dir_list(events->data_dir, &slugs, &count);
    if (err != ERR_OK) {
        textbuf_printf(why, "%s: %s\n", events->data_dir, strerror(errno));
        return err;
    }
    for (size_t i = 0; i < count; i++) {
        bool wanted = events->only == NULL || strcmp(events->only, slugs[i]) == 0;
        if (wanted && find_thread(events, slugs[i]) < 0)
            start_event(events, slugs[i], why);
        free(slugs[i]);
    }
    free(slugs);
    return ERR_OK;
}

int served_events_open_store(const struct served_events *events, const struct served_event *served,
                             struct store **out) {
    char *path = data_dir_path(events->data_dir, served->slug);
    enum store_mode mode = atomic_load(&served->copied) ? STORE_COPY : STORE_READ;
    int err = path == NULL ? ERR_NOMEM : store_open(path, mode, out, NULL);
    free(path);
    return err;
}

/* Files that cannot be opened are logged when they are others than before. */
static void log_changed(struct served_events *events, const struct textbuf *why) {
    if (strcmp(textbuf_text(why), events->last_errors == NULL ? "" : events->last_errors) == 0)
        return;
    log_errors(NULL, textbuf_text(why));
    free(events->last_errors);
    events->last_errors = strdup(textbuf_text(why));
}

/* Adds what stands in the way of each event that is not open. */
static void add_open_errors(struct served_events *events, struct textbuf *why) {
    for (int i = 0; i < events->thread_count; i++)
        writer_thread_open_error(events->threads[i], why);
}

/* Called by the thread of an event. */
static void tried(void *context) {
    struct served_events *events = context;
    (void)pthread_mutex_lock(&events->lock);
    events->tried = true;
    (void)pthread_cond_signal(&events->wake);
    (void)pthread_mutex_unlock(&events->lock);
}

/* Waits until a thread has tried to open its file, or the end has come. Returns false where neither
 * was before `until`. */
static bool wait_for_try(struct served_events *events, const struct timespec *until) {
    int rc = 0;
    (void)pthread_mutex_lock(&events->lock);
    while (!events->tried && !events->stopping && rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&events->wake, &events->lock, until);
    events->tried = false;
    (void)pthread_mutex_unlock(&events->lock);
    return rc != ETIMEDOUT;
}

static bool is_stopping(struct served_events *events) {
    (void)pthread_mutex_lock(&events->lock);
    bool stopping = events->stopping;
    (void)pthread_mutex_unlock(&events->lock);
    return stopping;
}

static void *scan_all(void *context) {
    struct served_events *events = context;
    while (!is_stopping(events)) {
        struct timespec until = monotonic_deadline(INT64_C(1000) * SCAN_EVERY_MS);
        struct textbuf why = {0};
        while (wait_for_try(events, &until) && !is_stopping(events))
            list_open(events);
        drop_gone(events);
        if (!is_stopping(events))
            (void)scan(events, &why);
        add_open_errors(events, &why);
        log_changed(events, &why);
        textbuf_clear(&why);
    }
    return NULL;
}

/* Waits until every file was tried. */
static void wait_for_all(struct served_events *events, struct textbuf *why) {
    int64_t wait_ms = events->only != NULL ? START_WAIT_ALONE_MS : START_WAIT_MS;
    struct timespec until = monotonic_deadline(1000 * wait_ms);
    bool in_time = true;
    for (int i = 0; i < events->thread_count; i++) {
        while (in_time && !writer_thread_has_tried(events->threads[i]))
            in_time = wait_for_try(events, &until);
        if (!writer_thread_has_tried(events->threads[i]))
            textbuf_printf(why, "%s: takes long to open, and is served once it is\n",
                           writer_thread_served(events->threads[i])->slug);
    }
}

int served_events_new(const char *data_dir, const char *only,
                      void (*published)(void *context, struct served_event *served,
                                        const struct snapshot *before, const struct snapshot *now),
                      void *context, struct textbuf *why, struct served_events **out) {
    struct served_events *events = calloc(1, sizeof *events);
    *out = NULL;
    if (events == NULL)
        return ERR_NOMEM;
    events->data_dir = strdup(data_dir);
    events->only = only == NULL ? NULL : strdup(only);
    events->options = (struct writer_options){events->data_dir,
                                              {published, context, &events->figures},
                                              .tried = tried,
                                              .context = events};
    (void)pthread_mutex_init(&events->lock, NULL);
    monotonic_condition_init(&events->wake);
    int err = events->data_dir == NULL || (only != NULL && events->only == NULL)
                  ? ERR_NOMEM
                  : scan(events, why);
    if (err == ERR_OK) {
        wait_for_all(events, why);
        list_open(events);
        add_open_errors(events, why);
        events->last_errors = strdup(textbuf_text(why)); /* the caller reports it */
        events->started = pthread_create(&events->thread, NULL, scan_all, events) == 0;
        err = events->started ? ERR_OK : ERR_IO;
        if (!events->started)
            textbuf_puts(why, "there is no thread to be had");
    }
    if (err == ERR_OK)
        *out = events;
    else
        served_events_free(events);
    return err;
}

/* Asks all threads to end. */
static void stop_all(struct served_events *events) {
    (void)pthread_mutex_lock(&events->lock);
    events->stopping = true;
    (void)pthread_cond_signal(&events->wake);
    for (int i = 0; i < events->thread_count; i++)
        writer_thread_stop(events->threads[i]);
    (void)pthread_mutex_unlock(&events->lock);
}

void served_events_stop(struct served_events *events) {
    /* The events end side by side, however long the scanning thread takes; what that has begun
     * meanwhile is asked afterwards. */
    stop_all(events);
    if (events->started)
        (void)pthread_join(events->thread, NULL);
    events->started = false;
    stop_all(events);
    for (int i = 0; i < events->thread_count; i++)
        writer_thread_join(events->threads[i]);
}

void served_events_free(struct served_events *events) {
    if (events == NULL)
        return;
    served_events_stop(events);
    for (int i = 0; i < events->thread_count; i++)
        writer_thread_free(events->threads[i]);
    (void)pthread_cond_destroy(&events->wake);
    (void)pthread_mutex_destroy(&events->lock);
    free(events->data_dir);
    free(events->only);
    free(events->last_errors);
    free(events);
}
