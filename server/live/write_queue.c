/* SPDX-License-Identifier: MIT */
#include "live/write_queue.h"

#include <errno.h>
#include <pthread.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/err.h"
#include "live/writer_thread.h"
#include "system/data_dir.h"
#include "system/hard_limits.h"
#include "system/log.h"
#include "system/system_clock.h"

/* How often the folder is looked through for new event files; and how long a start waits for files
 * that take long to open, before it serves the rest without them. One file alone is waited for a
 * day. */
enum { SCAN_EVERY_MS = 1000, START_WAIT_MS = 5000, START_WAIT_ALONE_MS = 86400000 };

struct write_queue {
    char *data_dir;
    char *only; /* the one event to open; NULL for all */
    char *told; /* of event files that cannot be opened; the scanning thread's own */
    struct served_event
        *events[LIMIT_EVENTS]; /* those that are open; added to by the scanning thread */
    atomic_int count;
    pthread_t thread; /* that scans: it starts the threads of events, and never waits for a file */
    bool started;
    pthread_mutex_t lock; /* all that follows but the figures */
    pthread_cond_t wake;
    struct writer_thread *threads[LIMIT_EVENTS]; /* changed by the scanning thread alone */
    int thread_count;
    bool tried; /* one of them has tried to open its file since somebody looked */
    bool stopping;
    struct writer_terms terms;
    struct write_queue_figures figures;
};

int write_queue_count(const struct write_queue *k) {
    return atomic_load(&k->count);
}

struct served_event *write_queue_at(const struct write_queue *k, int index) {
    return k->events[index];
}

struct served_event *write_queue_find(const struct write_queue *k, const char *slug) {
    int count = write_queue_count(k);
    for (int i = 0; i < count; i++) {
        if (strcmp(k->events[i]->slug, slug) == 0)
            return k->events[i];
    }
    return NULL;
}

/* The thread of that slug, -1 where there is none. For the scanning thread, or under the lock. */
static int find_thread(struct write_queue *k, const char *slug) {
    for (int i = 0; i < k->thread_count; i++) {
        if (strcmp(writer_thread_served(k->threads[i])->slug, slug) == 0)
            return i;
    }
    return -1;
}

bool write_queue_is_opening(struct write_queue *k, const char *slug) {
    (void)pthread_mutex_lock(&k->lock);
    int index = find_thread(k, slug);
    bool opening = index >= 0 && writer_thread_state(k->threads[index]) != WRITER_GONE &&
                   (!writer_thread_has_tried(k->threads[index]) ||
                    writer_thread_state(k->threads[index]) == WRITER_OPEN);
    (void)pthread_mutex_unlock(&k->lock);
    return opening;
}

const struct write_queue_figures *write_queue_figures(const struct write_queue *k) {
    return &k->figures;
}

/* Starts the thread of an event that has none yet. */
static void start_event(struct write_queue *k, const char *slug, struct textbuf *why) {
    struct writer_thread *thread = NULL;
    if (k->thread_count == LIMIT_EVENTS)
        textbuf_printf(why, "%s: there are more than %d event files (%s)\n", slug, LIMIT_EVENTS,
                       k->data_dir);
    else if ((thread = writer_thread_start(&k->terms, slug)) == NULL)
        textbuf_printf(why, "%s: there is no thread to be had\n", slug);
    if (thread == NULL)
        return;
    (void)pthread_mutex_lock(&k->lock);
    k->threads[k->thread_count++] = thread;
    (void)pthread_mutex_unlock(&k->lock);
}

/* Makes known what has come to be open, in the order of the threads. */
static void list_open(struct write_queue *k) {
    for (int i = 0; i < k->thread_count; i++) {
        struct served_event *served = writer_thread_served(k->threads[i]);
        int used = write_queue_count(k);
        if (writer_thread_state(k->threads[i]) != WRITER_OPEN ||
            write_queue_find(k, served->slug) != NULL)
            continue;
        k->events[used] = served;
        atomic_store(&k->count, used + 1);
    }
}

/* Lets go the threads of files that were removed before they could be opened. */
static void drop_gone(struct write_queue *k) {
    for (int i = k->thread_count - 1; i >= 0; i--) {
        struct writer_thread *thread = k->threads[i];
        if (writer_thread_state(thread) != WRITER_GONE)
            continue;
        (void)pthread_mutex_lock(&k->lock);
        k->thread_count--;
        memmove(&k->threads[i], &k->threads[i + 1],
                (size_t)(k->thread_count - i) * sizeof *k->threads);
        (void)pthread_mutex_unlock(&k->lock);
        writer_thread_free(thread);
    }
}

/* Starts threads for the event files that have none yet. */
static int scan(struct write_queue *k, struct textbuf *why) {
    char **slugs = NULL;
    size_t count = 0;
    int err = data_dir_list(k->data_dir, &slugs, &count);
    if (err != ERR_OK) {
        textbuf_printf(why, "%s: %s\n", k->data_dir, strerror(errno));
        return err;
    }
    for (size_t i = 0; i < count; i++) {
        bool wanted = k->only == NULL || strcmp(k->only, slugs[i]) == 0;
        if (wanted && find_thread(k, slugs[i]) < 0)
            start_event(k, slugs[i], why);
        free(slugs[i]);
    }
    free(slugs);
    return ERR_OK;
}

int write_queue_read(const struct write_queue *k, const struct served_event *served,
                     struct store **out) {
    char *path = data_dir_path(k->data_dir, served->slug);
    enum store_mode mode = atomic_load(&served->copied) ? STORE_COPY : STORE_READ;
    int err = path == NULL ? ERR_NOMEM : store_open(path, mode, out, NULL);
    free(path);
    return err;
}

int write_queue_submit(struct write_queue *k, struct write *write) {
    /* Of what may wait in all no event has more than a part; see writer_thread_submit. */
    int most = LIMIT_QUEUE - (write->kind == WRITE_READINGS ? 0 : LIMIT_QUEUE_KEPT);
    bool room = atomic_fetch_add(&k->figures.waiting, 1) < most;
    int err = room ? writer_thread_submit(write->served->thread, write) : ERR_BUSY;
    if (err != ERR_OK)
        atomic_fetch_sub(&k->figures.waiting, 1);
    return err;
}

const char *served_event_trouble(const struct served_event *served) {
    long long since = atomic_load(&served->busy_since_ms);
    if (since != 0 &&
        monotonic_microseconds() / 1000 - since > INT64_C(1000) * LIMIT_WRITER_SECONDS)
        return "the disk does not answer";
    return write_state_words((enum write_state)atomic_load(&served->writes));
}

void served_event_damage(struct served_event *served, struct damage *out) {
    *out = (struct damage){0};
    (void)pthread_mutex_lock(&served->damage_lock);
    damage_add_all(out, &served->damage);
    (void)pthread_mutex_unlock(&served->damage_lock);
}

void served_event_set_damage(struct served_event *served, struct damage *found) {
    (void)pthread_mutex_lock(&served->damage_lock);
    struct damage before = served->damage;
    served->damage = *found;
    *found = (struct damage){0};
    (void)pthread_mutex_unlock(&served->damage_lock);
    damage_clear(&before);
}

void write_queue_refresh(struct served_event *served) {
    writer_thread_look(served->thread);
}

/* Of files that cannot be opened the log is told when they are others than before. */
static void tell(struct write_queue *k, const struct textbuf *why) {
    if (strcmp(textbuf_text(why), k->told == NULL ? "" : k->told) == 0)
        return;
    log_errors(NULL, textbuf_text(why));
    free(k->told);
    k->told = strdup(textbuf_text(why));
}

/* Adds what stands in the way of each event that is not open. */
static void add_troubles(struct write_queue *k, struct textbuf *why) {
    for (int i = 0; i < k->thread_count; i++)
        writer_thread_tell(k->threads[i], why);
}

static struct timespec after_ms(int64_t ms) {
    int64_t until = monotonic_microseconds() + 1000 * ms;
    return (struct timespec){until / 1000000, until % 1000000 * 1000};
}

/* Called by the thread of an event. */
static void tried(void *context) {
    struct write_queue *k = context;
    (void)pthread_mutex_lock(&k->lock);
    k->tried = true;
    (void)pthread_cond_signal(&k->wake);
    (void)pthread_mutex_unlock(&k->lock);
}

/* Waits until a thread has tried to open its file, or the end has come. Returns false where neither
 * was before `until`. */
static bool wait_for_try(struct write_queue *k, const struct timespec *until) {
    int rc = 0;
    (void)pthread_mutex_lock(&k->lock);
    while (!k->tried && !k->stopping && rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&k->wake, &k->lock, until);
    k->tried = false;
    (void)pthread_mutex_unlock(&k->lock);
    return rc != ETIMEDOUT;
}

static bool is_stopping(struct write_queue *k) {
    (void)pthread_mutex_lock(&k->lock);
    bool stopping = k->stopping;
    (void)pthread_mutex_unlock(&k->lock);
    return stopping;
}

static void *scan_all(void *context) {
    struct write_queue *k = context;
    while (!is_stopping(k)) {
        struct timespec until = after_ms(SCAN_EVERY_MS);
        struct textbuf why = {0};
        while (wait_for_try(k, &until) && !is_stopping(k))
            list_open(k);
        drop_gone(k);
        if (!is_stopping(k))
            (void)scan(k, &why);
        add_troubles(k, &why);
        tell(k, &why);
        textbuf_clear(&why);
    }
    return NULL;
}

/* Waits until every file was tried. */
static void wait_for_all(struct write_queue *k, struct textbuf *why) {
    struct timespec until = after_ms(k->only != NULL ? START_WAIT_ALONE_MS : START_WAIT_MS);
    bool in_time = true;
    for (int i = 0; i < k->thread_count; i++) {
        while (in_time && !writer_thread_has_tried(k->threads[i]))
            in_time = wait_for_try(k, &until);
        if (!writer_thread_has_tried(k->threads[i]))
            textbuf_printf(why, "%s: takes long to open, and is served once it is\n",
                           writer_thread_served(k->threads[i])->slug);
    }
}

int write_queue_new(const char *data_dir, const char *only,
                    void (*published)(void *context, struct served_event *served,
                                      const struct snapshot *before, const struct snapshot *now),
                    void *context, struct textbuf *why, struct write_queue **out) {
    struct write_queue *k = calloc(1, sizeof *k);
    pthread_condattr_t attributes;
    *out = NULL;
    if (k == NULL)
        return ERR_NOMEM;
    k->data_dir = strdup(data_dir);
    k->only = only == NULL ? NULL : strdup(only);
    k->terms = (struct writer_terms){
        k->data_dir, {published, context, &k->figures}, .tried = tried, .keeper = k};
    (void)pthread_mutex_init(&k->lock, NULL);
    (void)pthread_condattr_init(&attributes);
    (void)pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    (void)pthread_cond_init(&k->wake, &attributes);
    (void)pthread_condattr_destroy(&attributes);
    int err = k->data_dir == NULL || (only != NULL && k->only == NULL) ? ERR_NOMEM : scan(k, why);
    if (err == ERR_OK) {
        wait_for_all(k, why);
        list_open(k);
        add_troubles(k, why);
        k->told = strdup(textbuf_text(why)); /* the caller tells it */
        k->started = pthread_create(&k->thread, NULL, scan_all, k) == 0;
        err = k->started ? ERR_OK : ERR_IO;
        if (!k->started)
            textbuf_puts(why, "there is no thread to be had");
    }
    if (err == ERR_OK)
        *out = k;
    else
        write_queue_free(k);
    return err;
}

/* Asks all threads to end. */
static void stop_all(struct write_queue *k) {
    (void)pthread_mutex_lock(&k->lock);
    k->stopping = true;
    (void)pthread_cond_signal(&k->wake);
    for (int i = 0; i < k->thread_count; i++)
        writer_thread_stop(k->threads[i]);
    (void)pthread_mutex_unlock(&k->lock);
}

void write_queue_stop(struct write_queue *k) {
    /* The events end side by side, however long the scanning thread takes; what that has begun
     * meanwhile is asked afterwards. */
    stop_all(k);
    if (k->started)
        (void)pthread_join(k->thread, NULL);
    k->started = false;
    stop_all(k);
    for (int i = 0; i < k->thread_count; i++)
        writer_thread_join(k->threads[i]);
}

void write_queue_free(struct write_queue *k) {
    if (k == NULL)
        return;
    write_queue_stop(k);
    for (int i = 0; i < k->thread_count; i++)
        writer_thread_free(k->threads[i]);
    (void)pthread_cond_destroy(&k->wake);
    (void)pthread_mutex_destroy(&k->lock);
    free(k->data_dir);
    free(k->only);
    free(k->told);
    free(k);
}

void write_free(struct write *write) {
    if (write == NULL)
        return;
    for (size_t i = 0; i < write->refused_count; i++) {
        free(write->refused[i].id);
        free(write->refused[i].reason);
    }
    free(write->refused);
    free(write->body);
    upload_clear(&write->upload);
    textbuf_clear(&write->why);
    textbuf_clear(&write->told);
    textbuf_clear(&write->looked.point);
    textbuf_clear(&write->looked.title);
    sodium_memzero(write->new_key.text, sizeof write->new_key.text);
    free(write);
}
