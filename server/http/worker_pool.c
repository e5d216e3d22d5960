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

/* Threads that take from the same queues. */
enum crew { CREW_KEYED, CREW_PUBLIC, CREW_PAPER, CREW_PUBLIC_PAPER, CREW_COUNT };

/* Nicer by 3 is half of the weight: the public's answers still come along on a busy machine, and
 * what takes readings goes first. */
enum { THREADS_MAX = 2, NICE_PUBLIC = 3, NICE_MOST = 19 };

static const struct {
    enum crew crew;
    size_t most; /* orders that wait, without those that share */
} turns[TURN_COUNT] = {
    [TURN_KEYED] = {CREW_KEYED, LIMIT_ORDERS_KEYED},
    [TURN_PUBLIC] = {CREW_PUBLIC, LIMIT_ORDERS_PUBLIC},
    [TURN_DEAR] = {CREW_PUBLIC, LIMIT_ORDERS_DEAR},
    [TURN_PAPER] = {CREW_PAPER, LIMIT_ORDERS_PAPER},
    [TURN_PUBLIC_PAPER] = {CREW_PUBLIC_PAPER, LIMIT_ORDERS_PAPER},
};

static const struct {
    const char *name; /* of its threads, for who looks at the machine */
    int threads;
    int nicer;
} crews[CREW_COUNT] = {[CREW_KEYED] = {"keyed", THREADS_MAX, 0},
                       [CREW_PUBLIC] = {"public", 1, NICE_PUBLIC},
                       [CREW_PAPER] = {"paper", 1, 0},
                       [CREW_PUBLIC_PAPER] = {"public paper", 1, NICE_PUBLIC}};

struct queue {
    struct order *first, *last;
    size_t count;
};

struct hands {
    struct worker_pool *makers;
    enum crew crew;
    pthread_cond_t wake;
    pthread_t threads[THREADS_MAX];
    int started;
};

struct worker_pool {
    pthread_mutex_t lock;
    struct queue queues[TURN_COUNT];
    struct order *under_way; /* being made */
    struct hands hands[CREW_COUNT];
    struct worker_pool_figures figures;
    atomic_bool stopping;
    int64_t until_us; /* once it stops: for what is not dear */
};

/* ---- under the lock ---- */

static void put(struct queue *q, struct order *order) {
    order->next = NULL;
    if (q->last == NULL)
        q->first = order;
    else
        q->last->next = order;
    q->last = order;
    q->count++;
}

static struct order *take(struct queue *q) {
    struct order *order = q->first;
    if (order == NULL)
        return NULL;
    q->first = order->next;
    if (q->first == NULL)
        q->last = NULL;
    q->count--;
    order->next = NULL;
    return order;
}

/* The turns of a crew in their order: enum turn has the cheaper first. */
static struct order *take_next(struct worker_pool *m, enum crew crew) {
    struct order *order = NULL;
    for (int turn = 0; order == NULL && turn < TURN_COUNT; turn++) {
        if (turns[turn].crew == crew)
            order = take(&m->queues[turn]);
    }
    return order;
}

static bool is_same(const struct order *a, const struct order *b) {
    return !a->closed && a->name != NULL && b->name != NULL && a->scope == b->scope &&
           a->variant == b->variant && strcmp(a->name, b->name) == 0;
}

static bool is_of_address(const struct order *a, const struct order *b) {
    return a->address_len == b->address_len && memcmp(a->address, b->address, a->address_len) == 0;
}

/* Looks through a list. Returns one that makes the same; counts those of the same address. */
static struct order *look(struct order *list, const struct order *wanted, int *of_address) {
    for (struct order *o = list; o != NULL; o = o->next) {
        if (is_same(o, wanted))
            return o;
        *of_address += is_of_address(o, wanted);
    }
    return NULL;
}

/* One that makes the same already, waiting or under way. */
static struct order *find_same(struct worker_pool *m, const struct order *wanted, int *of_address) {
    struct order *found = look(m->under_way, wanted, of_address);
    for (int turn = 0; found == NULL && turn < TURN_COUNT; turn++)
        found = look(m->queues[turn].first, wanted, of_address);
    return found;
}

static void leave(struct worker_pool *m, const struct order *order) {
    struct order **at = &m->under_way;
    while (*at != order)
        at = &(*at)->next;
    *at = order->next;
}

/* ---- a maker ---- */

/* Ends a list of orders that share. `made` NULL: nothing was made. */
static void end_others(struct order *list, const struct order *made) {
    while (list != NULL) {
        struct order *next = list->others; /* it may be freed at once */
        list->others = NULL;
        if (made != NULL)
            list->share(list, made);
        list->done(list, made != NULL ? ORDER_MADE : ORDER_GIVEN_UP);
        list = next;
    }
}

static int count_others(const struct order *list) {
    int count = 0;
    for (; list != NULL; list = list->others)
        count++;
    return count;
}

/* Under the lock, since more may join. */
static bool has_client(const struct order *order) {
    for (const struct order *o = order; o != NULL; o = o->others) {
        if (o->is_gone == NULL || !o->is_gone(o))
            return true;
    }
    return false;
}

/* The order is in the list of those under way, where more may join it until it is made or given up.
 */
static void work(struct worker_pool *m, struct order *order, bool makes) {
    if (makes)
        order->make(order);
    (void)pthread_mutex_lock(&m->lock);
    leave(m, order);
    struct order *others = order->others;
    int shared = count_others(others);
    m->figures.waiting -= 1 + shared;
    m->figures.made += makes;
    m->figures.shared += makes ? shared : 0;
    m->figures.given_up += makes ? 0 : 1 + shared;
    (void)pthread_mutex_unlock(&m->lock);
    order->others = NULL;
    end_others(others, makes ? order : NULL);
    order->done(order, makes ? ORDER_MADE : ORDER_GIVEN_UP);
}

/* On Linux a thread has a priority of its own; where that is not allowed it stays as it is. */
static void be_nicer(int by) {
    int own = getpriority(PRIO_PROCESS, (id_t)gettid());
    if (by > 0 && own < NICE_MOST)
        (void)setpriority(PRIO_PROCESS, (id_t)gettid(),
                          own + by < NICE_MOST ? own + by : NICE_MOST);
}

static bool may_be_made(const struct worker_pool *m, const struct order *order) {
    return !atomic_load(&m->stopping) ||
           (order->turn <= TURN_PUBLIC && monotonic_microseconds() < m->until_us);
}

static void *run(void *context) {
    struct hands *hands = context;
    struct worker_pool *m = hands->makers;
    (void)pthread_setname_np(pthread_self(), crews[hands->crew].name);
    be_nicer(crews[hands->crew].nicer);
    (void)pthread_mutex_lock(&m->lock);
    for (;;) {
        struct order *order = take_next(m, hands->crew);
        if (order != NULL) {
            order->next = m->under_way;
            m->under_way = order;
            bool makes = may_be_made(m, order) && has_client(order);
            order->closed = !makes;
            (void)pthread_mutex_unlock(&m->lock);
            work(m, order, makes);
            (void)pthread_mutex_lock(&m->lock);
        } else if (atomic_load(&m->stopping)) {
            break;
        } else {
            (void)pthread_cond_wait(&hands->wake, &m->lock);
        }
    }
    (void)pthread_mutex_unlock(&m->lock);
    return NULL;
}

/* Starts what threads of a crew are not there yet. Returns false where it has none. */
static bool start(struct hands *hands) {
    while (hands->started < crews[hands->crew].threads &&
           pthread_create(&hands->threads[hands->started], NULL, run, hands) == 0)
        hands->started++;
    return hands->started > 0;
}

/* ---- for all ---- */

struct worker_pool *worker_pool_new(void) {
    struct worker_pool *m = calloc(1, sizeof *m);
    if (m == NULL)
        return NULL;
    (void)pthread_mutex_init(&m->lock, NULL);
    for (int i = 0; i < CREW_COUNT; i++) {
        m->hands[i].makers = m;
        m->hands[i].crew = (enum crew)i;
        (void)pthread_cond_init(&m->hands[i].wake, NULL);
    }
    /* Those of keys are there from the start: later there may be no thread to be had. */
    if (!start(&m->hands[CREW_KEYED])) {
        worker_pool_free(m);
        return NULL;
    }
    return m;
}

bool worker_pool_take(struct worker_pool *m, struct order *order) {
    struct queue *q = &m->queues[order->turn];
    struct hands *hands = &m->hands[turns[order->turn].crew];
    int of_address = 0;
    order->next = order->others = NULL;
    order->closed = false;
    (void)pthread_mutex_lock(&m->lock);
    bool taken = !atomic_load(&m->stopping);
    struct order *same = taken ? find_same(m, order, &of_address) : NULL;
    if (same != NULL) {
        order->others = same->others;
        same->others = order;
    } else if (taken) {
        taken = q->count < turns[order->turn].most &&
                (order->address_len == 0 || of_address < LIMIT_ORDERS_ADDRESS) && start(hands);
        if (taken) {
            put(q, order);
            (void)pthread_cond_signal(&hands->wake);
        }
    }
    m->figures.waiting += taken;
    m->figures.refused += !taken;
    (void)pthread_mutex_unlock(&m->lock);
    return taken;
}

bool worker_pool_give_up(struct worker_pool *m, struct order *order) {
    (void)pthread_mutex_lock(&m->lock);
    order->closed = order->closed || atomic_load(&m->stopping) || !has_client(order);
    (void)pthread_mutex_unlock(&m->lock);
    return order->closed;
}

bool worker_pool_are_stopping(const struct worker_pool *m) {
    return atomic_load(&m->stopping);
}

void worker_pool_stop(struct worker_pool *m) {
    if (m == NULL)
        return;
    (void)pthread_mutex_lock(&m->lock);
    m->until_us = monotonic_microseconds() + INT64_C(1000) * LIMIT_ORDERS_STOP_MS;
    atomic_store(&m->stopping, true);
    for (int i = 0; i < CREW_COUNT; i++)
        (void)pthread_cond_broadcast(&m->hands[i].wake);
    (void)pthread_mutex_unlock(&m->lock);
    /* The threads themselves empty the queues, giving up what they find. */
    for (int i = 0; i < CREW_COUNT; i++) {
        for (; m->hands[i].started > 0; m->hands[i].started--)
            (void)pthread_join(m->hands[i].threads[m->hands[i].started - 1], NULL);
    }
}

void worker_pool_free(struct worker_pool *m) {
    if (m == NULL)
        return;
    for (int i = 0; i < CREW_COUNT; i++)
        (void)pthread_cond_destroy(&m->hands[i].wake);
    (void)pthread_mutex_destroy(&m->lock);
    free(m);
}

void worker_pool_tell(struct worker_pool *m, struct worker_pool_figures *out) {
    (void)pthread_mutex_lock(&m->lock);
    *out = m->figures;
    (void)pthread_mutex_unlock(&m->lock);
}
