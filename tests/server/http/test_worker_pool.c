/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <pthread.h>
#include <semaphore.h>
#include <stdatomic.h>
#include <string.h>

#include "http/worker_pool.h"
#include "system/hard_limits.h"

/* A piece of work, and what became of it. */
struct piece {
    struct task task; /* first: one is the other */
    sem_t *hold;      /* waited for while it is made; NULL */
    sem_t begun, ended;
    struct worker_pool *asked; /* whether it is to be given up, once `hold` lets it go on; NULL */
    bool gave_up;              /* what they said; then it waits for `hold` again */
    atomic_int made, shared, given_up;
    int place; /* in the order of making, from 1 */
    bool gone;
};

static atomic_int places;

static struct piece *piece_of(const struct task *task) {
    return (struct piece *)(uintptr_t)task;
}

static void make(struct task *task) {
    struct piece *p = piece_of(task);
    p->place = atomic_fetch_add(&places, 1) + 1;
    atomic_fetch_add(&p->made, 1);
    (void)sem_post(&p->begun);
    if (p->hold != NULL)
        (void)sem_wait(p->hold);
    if (p->asked != NULL) {
        p->gave_up = worker_pool_is_abandoned(p->asked, task);
        (void)sem_post(&p->begun);
        (void)sem_wait(p->hold);
    }
}

static void share(struct task *task, const struct task *made) {
    assert_int_equal(atomic_load(&piece_of(made)->made), 1);
    atomic_fetch_add(&piece_of(task)->shared, 1);
}

static bool is_gone(const struct task *task) {
    return piece_of(task)->gone;
}

static void done(struct task *task, enum task_end end) {
    struct piece *p = piece_of(task);
    if (end == TASK_ABANDONED)
        atomic_fetch_add(&p->given_up, 1);
    (void)sem_post(&p->ended);
}

static struct piece piece(enum task_kind kind, const char *name) {
    struct piece p = {.task = {.kind = kind,
                               .name = name,
                               .make = make,
                               .share = share,
                               .is_gone = is_gone,
                               .done = done}};
    (void)sem_init(&p.begun, 0, 0);
    (void)sem_init(&p.ended, 0, 0);
    return p;
}

static void give(struct worker_pool *pool, struct piece *p) {
    assert_true(worker_pool_submit(pool, &p->task));
}

static void wait_end(struct piece *p) {
    (void)sem_wait(&p->ended);
}

static void end(struct worker_pool *pool) {
    worker_pool_stop(pool);
    worker_pool_free(pool);
}

static void keys_are_served_while_the_public_is_held_up(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    struct piece held = piece(TASK_PUBLIC, NULL);
    struct piece after = piece(TASK_PUBLIC, NULL);
    struct piece keyed[100];
    held.hold = &hold;
    give(pool, &held);
    (void)sem_wait(&held.begun);
    give(pool, &after);
    for (int i = 0; i < 100; i++) {
        keyed[i] = piece(TASK_KEYED, NULL);
        give(pool, &keyed[i]);
    }
    for (int i = 0; i < 100; i++)
        wait_end(&keyed[i]);
    assert_int_equal(atomic_load(&after.made), 0);
    (void)sem_post(&hold);
    wait_end(&after);
    assert_int_equal(atomic_load(&after.made), 1);
    end(pool);
}

static void what_is_dear_waits_behind_the_rest_of_the_public(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    struct piece held = piece(TASK_EXPENSIVE, NULL);
    struct piece dear[3];
    struct piece cheap[3];
    held.hold = &hold;
    give(pool, &held);
    (void)sem_wait(&held.begun);
    for (int i = 0; i < 3; i++) {
        dear[i] = piece(TASK_EXPENSIVE, NULL);
        cheap[i] = piece(TASK_PUBLIC, NULL);
        give(pool, &dear[i]);
        give(pool, &cheap[i]);
    }
    (void)sem_post(&hold);
    for (int i = 0; i < 3; i++) {
        wait_end(&dear[i]);
        wait_end(&cheap[i]);
    }
    for (int i = 0; i < 3; i++)
        assert_true(cheap[i].place < dear[0].place);
    assert_true(dear[0].place < dear[1].place && dear[1].place < dear[2].place);
    end(pool);
}

static void the_same_is_made_once(void **state) {
    sem_t hold;
    int scope = 0;
    struct worker_pool_figures figures;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    struct piece first = piece(TASK_PUBLIC, "/page");
    struct piece same[300];
    struct piece other = piece(TASK_PUBLIC, "/page");
    struct piece plain = piece(TASK_PUBLIC, "/page");
    first.hold = &hold;
    first.task.scope = &scope;
    plain.task.scope = &scope;
    plain.task.variant = 1;
    give(pool, &first);
    (void)sem_wait(&first.begun); /* while it is made, too */
    for (int i = 0; i < 300; i++) {
        same[i] = piece(TASK_PUBLIC, "/page");
        same[i].task.scope = &scope;
        give(pool, &same[i]);
    }
    give(pool, &other); /* of another revision */
    give(pool, &plain);
    (void)sem_post(&hold);
    for (int i = 0; i < 300; i++) {
        wait_end(&same[i]);
        assert_int_equal(atomic_load(&same[i].made), 0);
        assert_int_equal(atomic_load(&same[i].shared), 1);
    }
    wait_end(&other);
    wait_end(&plain);
    assert_int_equal(atomic_load(&other.made), 1);
    assert_int_equal(atomic_load(&plain.made), 1);
    worker_pool_read_figures(pool, &figures);
    assert_int_equal(figures.made, 3);
    assert_int_equal(figures.shared, 300);
    assert_int_equal(figures.waiting, 0);
    end(pool);
}

static void an_address_has_few_under_way_and_others_are_taken(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    struct piece of_one[LIMIT_TASKS_ADDRESS + 1];
    struct piece of_other = piece(TASK_PUBLIC, NULL);
    struct piece of_proxy = piece(TASK_PUBLIC, NULL);
    for (int i = 0; i <= LIMIT_TASKS_ADDRESS; i++) {
        of_one[i] = piece(TASK_PUBLIC, NULL);
        of_one[i].hold = &hold;
        of_one[i].task.address_len = 4;
        of_one[i].task.address[3] = 1;
        assert_int_equal(worker_pool_submit(pool, &of_one[i].task), i < LIMIT_TASKS_ADDRESS);
    }
    of_other.task.address_len = 4;
    of_other.task.address[3] = 2;
    give(pool, &of_other);
    give(pool, &of_proxy);
    for (int i = 0; i < LIMIT_TASKS_ADDRESS; i++) {
        (void)sem_post(&hold);
        wait_end(&of_one[i]);
    }
    wait_end(&of_other);
    of_one[0] = piece(TASK_PUBLIC, NULL);
    of_one[0].task.address_len = 4;
    of_one[0].task.address[3] = 1;
    give(pool, &of_one[0]);
    wait_end(&of_one[0]);
    wait_end(&of_proxy);
    end(pool);
}

static void a_queue_has_an_end(void **state) {
    enum { MANY = LIMIT_TASKS_EXPENSIVE + 10 };
    sem_t hold;
    static struct piece pieces[MANY];
    int taken = 0;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    struct piece held = piece(TASK_PUBLIC, NULL);
    struct piece cheap = piece(TASK_PUBLIC, NULL);
    held.hold = &hold;
    give(pool, &held);
    (void)sem_wait(&held.begun);
    for (int i = 0; i < MANY; i++) {
        pieces[i] = piece(TASK_EXPENSIVE, NULL);
        taken += worker_pool_submit(pool, &pieces[i].task);
    }
    assert_int_equal(taken, LIMIT_TASKS_EXPENSIVE);
    give(pool, &cheap);
    (void)sem_post(&hold);
    for (int i = 0; i < taken; i++)
        wait_end(&pieces[i]);
    wait_end(&cheap);
    end(pool);
}

static void nothing_is_made_for_who_has_gone(void **state) {
    (void)state;
    struct worker_pool *pool = worker_pool_new();
    struct piece gone = piece(TASK_KEYED, "a");
    struct piece there = piece(TASK_KEYED, NULL);
    gone.gone = true;
    give(pool, &gone);
    give(pool, &there);
    wait_end(&gone);
    wait_end(&there);
    assert_int_equal(atomic_load(&gone.made), 0);
    assert_int_equal(atomic_load(&gone.given_up), 1);
    assert_int_equal(atomic_load(&there.made), 1);
    end(pool);
}

static void what_one_waits_for_is_made_though_the_first_has_gone(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    struct piece held = piece(TASK_PUBLIC, NULL);
    struct piece gone = piece(TASK_PUBLIC, "a");
    struct piece there = piece(TASK_PUBLIC, "a");
    held.hold = &hold;
    give(pool, &held);
    (void)sem_wait(&held.begun);
    give(pool, &gone);
    give(pool, &there);
    gone.gone = true;
    (void)sem_post(&hold);
    wait_end(&there);
    wait_end(&gone);
    assert_int_equal(atomic_load(&there.shared), 1);
    end(pool);
}

/* One that is made while its client goes, and another of its name, handed in before or after it is
 * asked whether it is to be given up. */
static void make_for_who_goes(struct piece *first, struct piece *other, bool before) {
    sem_t hold;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    *first = piece(TASK_KEYED, "a");
    *other = piece(TASK_KEYED, "a");
    first->hold = &hold;
    first->asked = pool;
    give(pool, first);
    (void)sem_wait(&first->begun);
    if (before)
        give(pool, other);
    first->gone = true;
    (void)sem_post(&hold);
    (void)sem_wait(&first->begun);
    if (!before)
        give(pool, other);
    (void)sem_post(&hold);
    wait_end(first);
    wait_end(other);
    end(pool);
}

static void what_another_waits_for_is_not_given_up(void **state) {
    struct piece first;
    struct piece other;
    (void)state;
    make_for_who_goes(&first, &other, true);
    assert_false(first.gave_up);
    assert_int_equal(atomic_load(&other.shared), 1);
}

static void what_is_given_up_is_made_anew_for_who_comes(void **state) {
    struct piece first;
    struct piece other;
    (void)state;
    make_for_who_goes(&first, &other, false);
    assert_true(first.gave_up);
    assert_int_equal(atomic_load(&other.shared), 0);
    assert_int_equal(atomic_load(&other.made), 1);
}

static void *stop(void *context) {
    worker_pool_stop(context);
    return NULL;
}

static void an_end_gives_up_what_is_dear_and_takes_nothing_more(void **state) {
    sem_t hold;
    pthread_t thread;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *pool = worker_pool_new();
    struct piece held = piece(TASK_PUBLIC, "b");
    struct piece shares = piece(TASK_PUBLIC, "b");
    struct piece waiting[20];
    struct piece late = piece(TASK_KEYED, NULL);
    held.hold = &hold;
    give(pool, &held);
    (void)sem_wait(&held.begun);
    give(pool, &shares);
    for (int i = 0; i < 20; i++) {
        waiting[i] = piece(TASK_EXPENSIVE, NULL);
        give(pool, &waiting[i]);
    }
    assert_int_equal(pthread_create(&thread, NULL, stop, pool), 0);
    while (!worker_pool_is_stopping(pool))
        sched_yield();
    assert_false(worker_pool_submit(pool, &late.task));
    (void)sem_post(&hold);
    (void)pthread_join(thread, NULL);
    for (int i = 0; i < 20; i++) {
        wait_end(&waiting[i]);
        assert_int_equal(atomic_load(&waiting[i].given_up), 1);
        assert_int_equal(atomic_load(&waiting[i].made), 0);
    }
    assert_int_equal(atomic_load(&held.made), 1);
    assert_int_equal(atomic_load(&shares.shared), 1);
    worker_pool_free(pool);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_are_served_while_the_public_is_held_up),
        cmocka_unit_test(what_is_dear_waits_behind_the_rest_of_the_public),
        cmocka_unit_test(the_same_is_made_once),
        cmocka_unit_test(an_address_has_few_under_way_and_others_are_taken),
        cmocka_unit_test(a_queue_has_an_end),
        cmocka_unit_test(nothing_is_made_for_who_has_gone),
        cmocka_unit_test(what_one_waits_for_is_made_though_the_first_has_gone),
        cmocka_unit_test(what_another_waits_for_is_not_given_up),
        cmocka_unit_test(what_is_given_up_is_made_anew_for_who_comes),
        cmocka_unit_test(an_end_gives_up_what_is_dear_and_takes_nothing_more),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
