/* SPDX-License-Identifier: MIT */
#include "http/worker_pool.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "system/hard_limits.h"
#include "system/system_clock.h"

/* Groups of threads that take from the same queues. */
enum group { GROUP_KEYED, GROUP_PUBLIC, GROUP_PAPER, GROUP_PUBLIC_PAPER, GROUP_COUNT };

/* Nicer by 3 is half of the weight: the public's answers still come along on a busy machine, and
 * what takes readings goes first. */
enum { THREADS_MAX = 2, NICE_PUBLIC = 3, NICE_MOST = 19 };

static const struct {
    enum group group;
    size_t most; /* tasks that wait, without those that share */
} kinds[TASK_KIND_COUNT] = {
    [TASK_KEYED] = {GROUP_KEYED, LIMIT_TASKS_KEYED},
    [TASK_PUBLIC] = {GROUP_PUBLIC, LIMIT_TASKS_PUBLIC},
    [TASK_EXPENSIVE] = {GROUP_PUBLIC, LIMIT_TASKS_EXPENSIVE},
    [TASK_PAPER] = {GROUP_PAPER, LIMIT_TASKS_PAPER},
    [TASK_PUBLIC_PAPER] = {GROUP_PUBLIC_PAPER, LIMIT_TASKS_PAPER},
};

static const struct {
    const char *name; /* of its threads, for who looks at the machine */
    int threads;
    int nicer;
} groups[GROUP_COUNT] = {[GROUP_KEYED] = {"keyed", THREADS_MAX, 0},
                         [GROUP_PUBLIC] = {"public", 1, NICE_PUBLIC},
                         [GROUP_PAPER] = {"paper", 1, 0},
                         [GROUP_PUBLIC_PAPER] = {"public paper", 1, NICE_PUBLIC}};

struct queue {
    struct task *first, *last;
    size_t count;
};

struct workers {
    struct worker_pool *pool;
    enum group group;
    pthread_cond_t wake;
    pthread_t threads[THREADS_MAX];
    int started;
};

struct worker_pool {
    pthread_mutex_t lock;
    struct queue queues[TASK_KIND_COUNT];
    struct task *under_way; /* being made */
    struct workers workers[GROUP_COUNT];
    struct worker_pool_figures figures;
    atomic_bool stopping;
    int64_t until_us; /* once it stops: for what is not expensive */
};

/* ---- under the lock ---- */

static void put(struct queue *q, struct task *task) {
    task->next = NULL;
    if (q->last == NULL)
        q->first = task;
    else
        q->last->next = task;
    q->last = task;
    q->count++;
}

static struct task *take(struct queue *q) {
    struct task *task = q->first;
    if (task == NULL)
        return NULL;
    q->first = task->next;
    if (q->first == NULL)
        q->last = NULL;
    q->count--;
    task->next = NULL;
    return task;
}

/* The kinds of a group in their order: enum task_kind has the cheaper first. */
static struct task *take_next(struct worker_pool *pool, enum group group) {
    struct task *task = NULL;
    for (int kind = 0; task == NULL && kind < TASK_KIND_COUNT; kind++) {
        if (kinds[kind].group == group)
            task = take(&pool->queues[kind]);
    }
    return task;
}

static bool is_same(const struct task *a, const struct task *b) {
    return !a->closed && a->name != NULL && b->name != NULL && a->scope == b->scope &&
           a->variant == b->variant && strcmp(a->name, b->name) == 0;
}

static bool is_of_address(const struct task *a, const struct task *b) {
    return a->address_len == b->address_len && memcmp(a->address, b->address, a->address_len) == 0;
}

/* Looks through a list. Returns one that makes the same; counts those of the same address. */
static struct task *find_in(struct task *list, const struct task *wanted, int *of_address) {
    for (struct task *o = list; o != NULL; o = o->next) {
        if (is_same(o, wanted))
            return o;
        *of_address += is_of_address(o, wanted);
    }
    return NULL;
}

/* One that makes the same already, waiting or under way. */
static struct task *find_same(struct worker_pool *pool, const struct task *wanted,
                              int *of_address) {
    struct task *found = find_in(pool->under_way, wanted, of_address);
    for (int kind = 0; found == NULL && kind < TASK_KIND_COUNT; kind++)
        found = find_in(pool->queues[kind].first, wanted, of_address);
    return found;
}

static void leave(struct worker_pool *pool, const struct task *task) {
    struct task **at = &pool->under_way;
    while (*at != task)
        at = &(*at)->next;
    *at = task->next;
}

/* ---- a worker ---- */

/* Ends a list of tasks that share. `made` NULL: nothing was made. */
static void end_others(struct task *list, const struct task *made) {
    while (list != NULL) {
        struct task *next = list->others; /* it may be freed at once */
        list->others = NULL;
        if (made != NULL)
            list->share(list, made);
        list->done(list, made != NULL ? TASK_MADE : TASK_ABANDONED);
        list = next;
    }
}

static int count_others(const struct task *list) {
    int count = 0;
    for (; list != NULL; list = list->others)
        count++;
    return count;
}

/* Under the lock, since more may join. */
static bool has_client(const struct task *task) {
    for (const struct task *o = task; o != NULL; o = o->others) {
        if (o->is_gone == NULL || !o->is_gone(o))
            return true;
    }
    return false;
}

/* The task is in the list of those under way, where more may join it until it is made or abandoned.
 */
static void work(struct worker_pool *pool, struct task *task, bool makes) {
    if (makes)
        task->make(task);
    (void)pthread_mutex_lock(&pool->lock);
    leave(pool, task);
    struct task *others = task->others;
    int shared = count_others(others);
    pool->figures.waiting -= 1 + shared;
    pool->figures.made += makes;
    pool->figures.shared += makes ? shared : 0;
    pool->figures.abandoned += makes ? 0 : 1 + shared;
    (void)pthread_mutex_unlock(&pool->lock);
    task->others = NULL;
    end_others(others, makes ? task : NULL);
    task->done(task, makes ? TASK_MADE : TASK_ABANDONED);
}

/* On Linux a thread has a priority of its own; where that is not allowed it stays as it is. */
static void lower_priority(int by) {
    int own = getpriority(PRIO_PROCESS, (id_t)gettid());
    if (by > 0 && own < NICE_MOST)
        (void)setpriority(PRIO_PROCESS, (id_t)gettid(),
                          own + by < NICE_MOST ? own + by : NICE_MOST);
}

static bool may_be_made(const struct worker_pool *pool, const struct task *task) {
    return !atomic_load(&pool->stopping) ||
           (task->kind <= TASK_PUBLIC && monotonic_microseconds() < pool->until_us);
}

static void *run(void *context) {
    struct workers *workers = context;
    struct worker_pool *pool = workers->pool;
    (void)pthread_setname_np(pthread_self(), groups[workers->group].name);
    lower_priority(groups[workers->group].nicer);
    (void)pthread_mutex_lock(&pool->lock);
    for (;;) {
        struct task *task = take_next(pool, workers->group);
        if (task != NULL) {
            task->next = pool->under_way;
            pool->under_way = task;
            bool makes = may_be_made(pool, task) && has_client(task);
            task->closed = !makes;
            (void)pthread_mutex_unlock(&pool->lock);
            work(pool, task, makes);
            (void)pthread_mutex_lock(&pool->lock);
        } else if (atomic_load(&pool->stopping)) {
            break;
        } else {
            (void)pthread_cond_wait(&workers->wake, &pool->lock);
        }
    }
    (void)pthread_mutex_unlock(&pool->lock);
    return NULL;
}

/* Starts what threads of a group are not there yet. Returns false where it has none. */
static bool start(struct workers *workers) {
    while (workers->started < groups[workers->group].threads &&
           pthread_create(&workers->threads[workers->started], NULL, run, workers) == 0)
        workers->started++;
    return workers->started > 0;
}

/* ---- for all ---- */

struct worker_pool *worker_pool_new(void) {
    struct worker_pool *pool = calloc(1, sizeof *pool);
    if (pool == NULL)
        return NULL;
    (void)pthread_mutex_init(&pool->lock, NULL);
    for (int i = 0; i < GROUP_COUNT; i++) {
        pool->workers[i].pool = pool;
        pool->workers[i].group = (enum group)i;
        (void)pthread_cond_init(&pool->workers[i].wake, NULL);
    }
    /* Those of keys are there from the start: later there may be no thread to be had. */
    if (!start(&pool->workers[GROUP_KEYED])) {
        worker_pool_free(pool);
        return NULL;
    }
    return pool;
}

bool worker_pool_submit(struct worker_pool *pool, struct task *task) {
    struct queue *q = &pool->queues[task->kind];
    struct workers *workers = &pool->workers[kinds[task->kind].group];
    int of_address = 0;
    task->next = task->others = NULL;
    task->closed = false;
    (void)pthread_mutex_lock(&pool->lock);
    bool taken = !atomic_load(&pool->stopping);
    struct task *same = taken ? find_same(pool, task, &of_address) : NULL;
    if (same != NULL) {
        task->others = same->others;
        same->others = task;
    } else if (taken) {
        taken = q->count < kinds[task->kind].most &&
                (task->address_len == 0 || of_address < LIMIT_TASKS_ADDRESS) && start(workers);
        if (taken) {
            put(q, task);
            (void)pthread_cond_signal(&workers->wake);
        }
    }
    pool->figures.waiting += taken;
    pool->figures.refused += !taken;
    (void)pthread_mutex_unlock(&pool->lock);
    return taken;
}

bool worker_pool_is_abandoned(struct worker_pool *pool, struct task *task) {
    (void)pthread_mutex_lock(&pool->lock);
    task->closed = task->closed || atomic_load(&pool->stopping) || !has_client(task);
    (void)pthread_mutex_unlock(&pool->lock);
    return task->closed;
}

bool worker_pool_is_stopping(const struct worker_pool *pool) {
    return atomic_load(&pool->stopping);
}

void worker_pool_stop(struct worker_pool *pool) {
    if (pool == NULL)
        return;
    (void)pthread_mutex_lock(&pool->lock);
    pool->until_us = monotonic_microseconds() + INT64_C(1000) * LIMIT_TASKS_STOP_MS;
    atomic_store(&pool->stopping, true);
    for (int i = 0; i < GROUP_COUNT; i++)
        (void)pthread_cond_broadcast(&pool->workers[i].wake);
    (void)pthread_mutex_unlock(&pool->lock);
    /* The threads themselves empty the queues, abandoning what they find. */
    for (int i = 0; i < GROUP_COUNT; i++) {
        for (; pool->workers[i].started > 0; pool->workers[i].started--)
            (void)pthread_join(pool->workers[i].threads[pool->workers[i].started - 1], NULL);
    }
}

void worker_pool_free(struct worker_pool *pool) {
    if (pool == NULL)
        return;
    for (int i = 0; i < GROUP_COUNT; i++)
        (void)pthread_cond_destroy(&pool->workers[i].wake);
    (void)pthread_mutex_destroy(&pool->lock);
    free(pool);
}

void worker_pool_read_figures(struct worker_pool *pool, struct worker_pool_figures *out) {
    (void)pthread_mutex_lock(&pool->lock);
    *out = pool->figures;
    (void)pthread_mutex_unlock(&pool->lock);
}
