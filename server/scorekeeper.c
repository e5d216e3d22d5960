/* SPDX-License-Identifier: MIT */
#include "scorekeeper.h"

#include <errno.h>
#include <pthread.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "data_dir.h"
#include "err.h"
#include "hard_limits.h"
#include "log.h"
#include "machine.h"
#include "writer.h"

/* How often the writer looks whether somebody else changed an event file (a key on the command
 * line, an import), ms. Writes look every time. */
enum { LOOK_EVERY_MS = 100, LOOK_WAIT_MS = 500, SCAN_EVERY_MS = 1000 };

/* Clients that were just answered send their next reading within a moment. Where a commit takes
 * long, it is worth waiting for them before the next one, or every second would go without half of
 * them: after a batch that took longer than GATHER_FROM_US, for a share of that time. */
enum { GATHER_FROM_US = 2000, GATHER_SHARE = 8, GATHER_MOST_US = 2000 };

struct scorekeeper {
    char *data_dir;
    char *told; /* of event files that cannot be opened; the writer's thread's own */
    char *only; /* the one event to open; NULL for all */
    struct writer *writers[LIMIT_EVENTS]; /* one an event; written by the writer's thread */
    atomic_int count;
    pthread_t thread;
    bool started;
    pthread_mutex_t lock; /* all that follows but the figures */
    pthread_cond_t wake;
    pthread_cond_t looked;
    int64_t looks_wanted, looks_done;
    struct job *queue;
    struct job **tail;
    int queued;
    int wake_at;      /* jobs queued for which the writer wants to be woken */
    int batch;        /* jobs of the last batch, */
    int64_t batch_us; /* how long they took, */
    int expected;     /* and how many may be queued soon, since they are answered */
    bool stopping;
    struct publisher publisher;
    struct scorekeeper_figures figures;
};

int scorekeeper_count(const struct scorekeeper *k) {
    return atomic_load(&k->count);
}

struct held *scorekeeper_at(const struct scorekeeper *k, int index) {
    return writer_held(k->writers[index]);
}

struct held *scorekeeper_find(const struct scorekeeper *k, const char *slug) {
    int count = scorekeeper_count(k);
    for (int i = 0; i < count; i++) {
        if (strcmp(scorekeeper_at(k, i)->slug, slug) == 0)
            return scorekeeper_at(k, i);
    }
    return NULL;
}

const struct scorekeeper_figures *scorekeeper_figures(const struct scorekeeper *k) {
    return &k->figures;
}

/* Opens the event files that are not open yet. */
static int scan(struct scorekeeper *k, struct textbuf *why) {
    char **slugs = NULL;
    size_t count = 0;
    int err = data_dir_list(k->data_dir, &slugs, &count);
    if (err != ERR_OK) {
        textbuf_printf(why, "%s: %s\n", k->data_dir, strerror(errno));
        return err;
    }
    for (size_t i = 0; i < count; i++) {
        int used = scorekeeper_count(k);
        bool wanted = k->only == NULL || strcmp(k->only, slugs[i]) == 0;
        if (wanted && used < LIMIT_EVENTS && scorekeeper_find(k, slugs[i]) == NULL) {
            struct writer *writer = NULL;
            if (writer_open(k->data_dir, slugs[i], &k->publisher, &writer, why) == ERR_OK) {
                k->writers[used] = writer;
                atomic_store(&k->count, used + 1);
            }
        }
        free(slugs[i]);
    }
    free(slugs);
    return ERR_OK;
}

int scorekeeper_read(const struct scorekeeper *k, const struct held *held, struct store **out) {
    char *path = data_dir_path(k->data_dir, held->slug);
    int err = path == NULL ? ERR_NOMEM : store_open(path, STORE_READ, out, NULL);
    free(path);
    return err;
}

int scorekeeper_submit(struct scorekeeper *k, struct job *job) {
    int err = ERR_OK;
    (void)pthread_mutex_lock(&k->lock);
    /* What else there is to write leaves room for readings. */
    int most = job->kind == JOB_READINGS ? LIMIT_QUEUE : LIMIT_QUEUE - LIMIT_QUEUE_KEPT;
    if (k->stopping || atomic_load(&k->figures.waiting) >= most) {
        err = ERR_BUSY;
    } else {
        job->next = NULL;
        *k->tail = job;
        k->tail = &job->next;
        atomic_fetch_add(&k->figures.waiting, 1);
        if (++k->queued >= k->wake_at)
            (void)pthread_cond_signal(&k->wake);
    }
    (void)pthread_mutex_unlock(&k->lock);
    return err;
}

static struct timespec after_us(int64_t us) {
    int64_t until = machine_microseconds() + us;
    return (struct timespec){until / 1000000, until % 1000000 * 1000};
}

void scorekeeper_look(struct scorekeeper *k) {
    struct timespec until = after_us(INT64_C(1000) * LOOK_WAIT_MS);
    (void)pthread_mutex_lock(&k->lock);
    int64_t mine = ++k->looks_wanted;
    int rc = 0;
    (void)pthread_cond_signal(&k->wake);
    while (k->looks_done < mine && !k->stopping && rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&k->looked, &k->lock, &until);
    (void)pthread_mutex_unlock(&k->lock);
}

/* Waits, under the lock, until `count` jobs are queued, a look is wanted or the end has come; for
 * so many microseconds at most. */
static void wait_for_jobs(struct scorekeeper *k, int count, int64_t us) {
    struct timespec until = after_us(us);
    int rc = 0;
    k->wake_at = count;
    while (k->queued < count && !k->stopping && k->looks_wanted == k->looks_done && rc != ETIMEDOUT)
        rc = pthread_cond_timedwait(&k->wake, &k->lock, &until);
}

/* All that is queued, or NULL after a while in which nothing came.
 *   looks  how many looks were wanted by now */
static struct job *take_all(struct scorekeeper *k, bool *stop, int64_t *looks) {
    (void)pthread_mutex_lock(&k->lock);
    wait_for_jobs(k, 1, INT64_C(1000) * LOOK_EVERY_MS);
    if (k->queued > 0 && k->batch > 1 && k->batch_us > GATHER_FROM_US) {
        int64_t us = k->batch_us / GATHER_SHARE;
        wait_for_jobs(k, k->expected, us < GATHER_MOST_US ? us : GATHER_MOST_US);
    }
    struct job *jobs = k->queue;
    k->queue = NULL;
    k->tail = &k->queue;
    k->batch = k->queued;
    k->queued = 0;
    *stop = k->stopping && jobs == NULL;
    *looks = k->looks_wanted;
    (void)pthread_mutex_unlock(&k->lock);
    return jobs;
}

/* Parts the jobs of one event from the rest, in order. */
static struct job *jobs_of(struct job **all, const struct held *held) {
    struct job *own = NULL;
    struct job **last = &own;
    for (struct job **at = all; *at != NULL;) {
        struct job *job = *at;
        if (job->held != held) {
            at = &job->next;
            continue;
        }
        *at = job->next;
        job->next = NULL;
        *last = job;
        last = &job->next;
    }
    return own;
}

/* Of files that cannot be opened the log is told when they are others than before. */
static void tell(struct scorekeeper *k, const struct textbuf *why) {
    if (strcmp(textbuf_text(why), k->told == NULL ? "" : k->told) == 0)
        return;
    log_errors(NULL, textbuf_text(why));
    free(k->told);
    k->told = strdup(textbuf_text(why));
}

/* Looks whether somebody else changed an event file, and tells those who wait for that. */
static void look_at_all(struct scorekeeper *k, int64_t looks, bool stop) {
    for (int i = 0; i < scorekeeper_count(k) && !stop; i++)
        writer_look(k->writers[i]);
    (void)pthread_mutex_lock(&k->lock);
    k->looks_done = looks;
    (void)pthread_cond_broadcast(&k->looked);
    (void)pthread_mutex_unlock(&k->lock);
}

static void *write_all(void *context) {
    struct scorekeeper *k = context;
    int64_t scanned = now_ms();
    int64_t looked = 0; /* when, by the machine's clock */
    for (bool stop = false; !stop;) {
        int64_t looks = 0;
        struct job *jobs = take_all(k, &stop, &looks);
        int64_t from = machine_microseconds();
        while (jobs != NULL) {
            struct job *own = jobs_of(&jobs, jobs->held);
            for (int i = 0; i < scorekeeper_count(k); i++) {
                if (writer_held(k->writers[i]) == own->held) {
                    writer_work(k->writers[i], own);
                    break;
                }
            }
        }
        (void)pthread_mutex_lock(&k->lock);
        k->batch_us = machine_microseconds() - from;
        k->expected = k->batch + k->queued;
        (void)pthread_mutex_unlock(&k->lock);
        /* Under load a look at every file after every batch would be a good part of the work. */
        if (looks != k->looks_done || from - looked >= INT64_C(1000) * LOOK_EVERY_MS) {
            looked = from;
            look_at_all(k, looks, stop);
        }
        int64_t now = now_ms();
        if (now - scanned >= SCAN_EVERY_MS || now < scanned) {
            struct textbuf why = {0};
            scanned = now;
            (void)scan(k, &why);
            tell(k, &why);
            textbuf_clear(&why);
        }
    }
    return NULL;
}

int scorekeeper_new(const char *data_dir, const char *only,
                    void (*published)(void *context, struct held *held,
                                      const struct snapshot *before, const struct snapshot *now),
                    void *context, struct textbuf *why, struct scorekeeper **out) {
    struct scorekeeper *k = calloc(1, sizeof *k);
    pthread_condattr_t attributes;
    *out = NULL;
    if (k == NULL)
        return ERR_NOMEM;
    k->tail = &k->queue;
    k->publisher = (struct publisher){published, context, &k->figures};
    k->data_dir = strdup(data_dir);
    k->only = only == NULL ? NULL : strdup(only);
    (void)pthread_mutex_init(&k->lock, NULL);
    (void)pthread_condattr_init(&attributes);
    (void)pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    (void)pthread_cond_init(&k->wake, &attributes);
    (void)pthread_cond_init(&k->looked, &attributes);
    (void)pthread_condattr_destroy(&attributes);
    int err = k->data_dir == NULL || (only != NULL && k->only == NULL) ? ERR_NOMEM : scan(k, why);
    if (err == ERR_OK) {
        k->told = strdup(textbuf_text(why)); /* the caller tells it */
        k->started = pthread_create(&k->thread, NULL, write_all, k) == 0;
        err = k->started ? ERR_OK : ERR_IO;
    }
    if (err == ERR_OK)
        *out = k;
    else
        scorekeeper_free(k);
    return err;
}

void scorekeeper_stop(struct scorekeeper *k) {
    (void)pthread_mutex_lock(&k->lock);
    k->stopping = true;
    (void)pthread_cond_signal(&k->wake);
    (void)pthread_cond_broadcast(&k->looked);
    (void)pthread_mutex_unlock(&k->lock);
    if (k->started)
        (void)pthread_join(k->thread, NULL);
    k->started = false;
}

void scorekeeper_free(struct scorekeeper *k) {
    if (k == NULL)
        return;
    scorekeeper_stop(k);
    for (int i = 0; i < scorekeeper_count(k); i++)
        writer_close(k->writers[i]);
    (void)pthread_cond_destroy(&k->wake);
    (void)pthread_cond_destroy(&k->looked);
    (void)pthread_mutex_destroy(&k->lock);
    free(k->data_dir);
    free(k->only);
    free(k->told);
    free(k);
}

void job_free(struct job *job) {
    if (job == NULL)
        return;
    for (size_t i = 0; i < job->refused_count; i++) {
        free(job->refused[i].id);
        free(job->refused[i].reason);
    }
    free(job->refused);
    free(job->body);
    upload_clear(&job->upload);
    textbuf_clear(&job->why);
    textbuf_clear(&job->told);
    textbuf_clear(&job->looked.point);
    textbuf_clear(&job->looked.title);
    sodium_memzero(job->new_key.text, sizeof job->new_key.text);
    free(job);
}
