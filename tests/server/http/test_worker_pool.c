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
    struct order order; /* first: one is the other */
    sem_t *hold;        /* waited for while it is made; NULL */
    sem_t begun, ended;
    struct worker_pool *asked; /* whether it is to be given up, once `hold` lets it go on; NULL */
    bool gave_up;              /* what they said; then it waits for `hold` again */
    atomic_int made, shared, given_up;
    int place; /* in the order of making, from 1 */
    bool gone;
};

static atomic_int places;

static struct piece *piece_of(const struct order *order) {
    return (struct piece *)(uintptr_t)order;
}

static void make(struct order *order) {
    struct piece *p = piece_of(order);
    p->place = atomic_fetch_add(&places, 1) + 1;
    atomic_fetch_add(&p->made, 1);
    (void)sem_post(&p->begun);
    if (p->hold != NULL)
        (void)sem_wait(p->hold);
    if (p->asked != NULL) {
        p->gave_up = worker_pool_give_up(p->asked, order);
        (void)sem_post(&p->begun);
        (void)sem_wait(p->hold);
    }
}

static void share(struct order *order, const struct order *made) {
    assert_int_equal(atomic_load(&piece_of(made)->made), 1);
    atomic_fetch_add(&piece_of(order)->shared, 1);
}

static bool is_gone(const struct order *order) {
    return piece_of(order)->gone;
}

static void done(struct order *order, enum order_end end) {
    struct piece *p = piece_of(order);
    if (end == ORDER_GIVEN_UP)
        atomic_fetch_add(&p->given_up, 1);
    (void)sem_post(&p->ended);
}

static struct piece piece(enum turn turn, const char *name) {
    struct piece p = {.order = {.turn = turn,
                                .name = name,
                                .make = make,
                                .share = share,
                                .is_gone = is_gone,
                                .done = done}};
    (void)sem_init(&p.begun, 0, 0);
    (void)sem_init(&p.ended, 0, 0);
    return p;
}

static void give(struct worker_pool *m, struct piece *p) {
    assert_true(worker_pool_take(m, &p->order));
}

static void wait_end(struct piece *p) {
    (void)sem_wait(&p->ended);
}

static void end(struct worker_pool *m) {
    worker_pool_stop(m);
    worker_pool_free(m);
}

static void keys_are_served_while_the_public_is_held_up(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *m = worker_pool_new();
    struct piece held = piece(TURN_PUBLIC, NULL);
    struct piece after = piece(TURN_PUBLIC, NULL);
    struct piece keyed[100];
    held.hold = &hold;
    give(m, &held);
    (void)sem_wait(&held.begun);
    give(m, &after);
    for (int i = 0; i < 100; i++) {
        keyed[i] = piece(TURN_KEYED, NULL);
        give(m, &keyed[i]);
    }
    for (int i = 0; i < 100; i++)
        wait_end(&keyed[i]);
    assert_int_equal(atomic_load(&after.made), 0);
    (void)sem_post(&hold);
    wait_end(&after);
    assert_int_equal(atomic_load(&after.made), 1);
    end(m);
}

static void what_is_dear_waits_behind_the_rest_of_the_public(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *m = worker_pool_new();
    struct piece held = piece(TURN_DEAR, NULL);
    struct piece dear[3];
    struct piece cheap[3];
    held.hold = &hold;
    give(m, &held);
    (void)sem_wait(&held.begun);
    for (int i = 0; i < 3; i++) {
        dear[i] = piece(TURN_DEAR, NULL);
        cheap[i] = piece(TURN_PUBLIC, NULL);
        give(m, &dear[i]);
        give(m, &cheap[i]);
    }
    (void)sem_post(&hold);
    for (int i = 0; i < 3; i++) {
        wait_end(&dear[i]);
        wait_end(&cheap[i]);
    }
    for (int i = 0; i < 3; i++)
        assert_true(cheap[i].place < dear[0].place);
    assert_true(dear[0].place < dear[1].place && dear[1].place < dear[2].place);
    end(m);
}

static void the_same_is_made_once(void **state) {
    sem_t hold;
    int scope = 0;
    struct worker_pool_figures figures;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *m = worker_pool_new();
    struct piece first = piece(TURN_PUBLIC, "/page");
    struct piece same[300];
    struct piece other = piece(TURN_PUBLIC, "/page");
    struct piece plain = piece(TURN_PUBLIC, "/page");
    first.hold = &hold;
    first.order.scope = &scope;
    plain.order.scope = &scope;
    plain.order.variant = 1;
    give(m, &first);
    (void)sem_wait(&first.begun); /* while it is made, too */
    for (int i = 0; i < 300; i++) {
        same[i] = piece(TURN_PUBLIC, "/page");
        same[i].order.scope = &scope;
        give(m, &same[i]);
    }
    give(m, &other); /* of another revision */
    give(m, &plain);
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
    worker_pool_tell(m, &figures);
    assert_int_equal(figures.made, 3);
    assert_int_equal(figures.shared, 300);
    assert_int_equal(figures.waiting, 0);
    end(m);
}

static void an_address_has_few_under_way_and_others_are_taken(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *m = worker_pool_new();
    struct piece of_one[LIMIT_ORDERS_ADDRESS + 1];
    struct piece of_other = piece(TURN_PUBLIC, NULL);
    struct piece of_proxy = piece(TURN_PUBLIC, NULL);
    for (int i = 0; i <= LIMIT_ORDERS_ADDRESS; i++) {
        of_one[i] = piece(TURN_PUBLIC, NULL);
        of_one[i].hold = &hold;
        of_one[i].order.address_len = 4;
        of_one[i].order.address[3] = 1;
        assert_int_equal(worker_pool_take(m, &of_one[i].order), i < LIMIT_ORDERS_ADDRESS);
    }
    of_other.order.address_len = 4;
    of_other.order.address[3] = 2;
    give(m, &of_other);
    give(m, &of_proxy);
    for (int i = 0; i < LIMIT_ORDERS_ADDRESS; i++) {
        (void)sem_post(&hold);
        wait_end(&of_one[i]);
    }
    wait_end(&of_other);
    of_one[0] = piece(TURN_PUBLIC, NULL);
    of_one[0].order.address_len = 4;
    of_one[0].order.address[3] = 1;
    give(m, &of_one[0]);
    wait_end(&of_one[0]);
    wait_end(&of_proxy);
    end(m);
}

static void a_queue_has_an_end(void **state) {
    enum { MANY = LIMIT_ORDERS_DEAR + 10 };
    sem_t hold;
    static struct piece pieces[MANY];
    int taken = 0;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *m = worker_pool_new();
    struct piece held = piece(TURN_PUBLIC, NULL);
    struct piece cheap = piece(TURN_PUBLIC, NULL);
    held.hold = &hold;
    give(m, &held);
    (void)sem_wait(&held.begun);
    for (int i = 0; i < MANY; i++) {
        pieces[i] = piece(TURN_DEAR, NULL);
        taken += worker_pool_take(m, &pieces[i].order);
    }
    assert_int_equal(taken, LIMIT_ORDERS_DEAR);
    give(m, &cheap);
    (void)sem_post(&hold);
    for (int i = 0; i < taken; i++)
        wait_end(&pieces[i]);
    wait_end(&cheap);
    end(m);
}

static void nothing_is_made_for_who_has_gone(void **state) {
    (void)state;
    struct worker_pool *m = worker_pool_new();
    struct piece gone = piece(TURN_KEYED, "a");
    struct piece there = piece(TURN_KEYED, NULL);
    gone.gone = true;
    give(m, &gone);
    give(m, &there);
    wait_end(&gone);
    wait_end(&there);
    assert_int_equal(atomic_load(&gone.made), 0);
    assert_int_equal(atomic_load(&gone.given_up), 1);
    assert_int_equal(atomic_load(&there.made), 1);
    end(m);
}

static void what_one_waits_for_is_made_though_the_first_has_gone(void **state) {
    sem_t hold;
    (void)state;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *m = worker_pool_new();
    struct piece held = piece(TURN_PUBLIC, NULL);
    struct piece gone = piece(TURN_PUBLIC, "a");
    struct piece there = piece(TURN_PUBLIC, "a");
    held.hold = &hold;
    give(m, &held);
    (void)sem_wait(&held.begun);
    give(m, &gone);
    give(m, &there);
    gone.gone = true;
    (void)sem_post(&hold);
    wait_end(&there);
    wait_end(&gone);
    assert_int_equal(atomic_load(&there.shared), 1);
    end(m);
}

/* One that is made while its client goes, and another of its name, handed in before or after it is
 * asked whether it is to be given up. */
static void make_for_who_goes(struct piece *first, struct piece *other, bool before) {
    sem_t hold;
    (void)sem_init(&hold, 0, 0);
    struct worker_pool *m = worker_pool_new();
    *first = piece(TURN_KEYED, "a");
    *other = piece(TURN_KEYED, "a");
    first->hold = &hold;
    first->asked = m;
    give(m, first);
    (void)sem_wait(&first->begun);
    if (before)
        give(m, other);
    first->gone = true;
    (void)sem_post(&hold);
    (void)sem_wait(&first->begun);
    if (!before)
        give(m, other);
    (void)sem_post(&hold);
    wait_end(first);
    wait_end(other);
    end(m);
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
    struct worker_pool *m = worker_pool_new();
    struct piece held = piece(TURN_PUBLIC, "b");
    struct piece shares = piece(TURN_PUBLIC, "b");
    struct piece waiting[20];
    struct piece late = piece(TURN_KEYED, NULL);
    held.hold = &hold;
    give(m, &held);
    (void)sem_wait(&held.begun);
    give(m, &shares);
    for (int i = 0; i < 20; i++) {
        waiting[i] = piece(TURN_DEAR, NULL);
        give(m, &waiting[i]);
    }
    assert_int_equal(pthread_create(&thread, NULL, stop, m), 0);
    while (!worker_pool_are_stopping(m))
        sched_yield();
    assert_false(worker_pool_take(m, &late.order));
    (void)sem_post(&hold);
    (void)pthread_join(thread, NULL);
    for (int i = 0; i < 20; i++) {
        wait_end(&waiting[i]);
        assert_int_equal(atomic_load(&waiting[i].given_up), 1);
        assert_int_equal(atomic_load(&waiting[i].made), 0);
    }
    assert_int_equal(atomic_load(&held.made), 1);
    assert_int_equal(atomic_load(&shares.shared), 1);
    worker_pool_free(m);
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
