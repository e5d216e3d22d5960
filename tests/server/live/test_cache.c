/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>

#include "live/cache.h"
#include "system/hard_limits.h"

static struct answer *answer_of(size_t bytes) {
    struct answer *answer = calloc(1, sizeof *answer);
    assert_non_null(answer);
    answer->refs = 1;
    answer->bytes = bytes;
    return answer;
}

static void put(struct cache *cache, enum cache_share share, const char *name, size_t bytes) {
    struct answer *answer = answer_of(bytes);
    cache_put(cache, share, name, answer);
    answer_release(answer);
}

static bool has(struct cache *cache, const char *name) {
    struct answer *answer = cache_get(cache, name);
    answer_release(answer);
    return answer != NULL;
}

static void the_first_of_a_name_stays(void **state) {
    (void)state;
    struct cache *cache = cache_new();
    struct answer *first = answer_of(10);
    struct answer *second = answer_of(20);
    assert_null(cache_get(cache, "/a"));
    cache_put(cache, CACHE_USUAL, "/a", first);
    cache_put(cache, CACHE_OTHER, "/a", second);
    struct answer *found = cache_get(cache, "/a");
    assert_ptr_equal(found, first);
    assert_int_equal(atomic_load(&first->refs), 3);
    assert_int_equal(atomic_load(&second->refs), 1);
    answer_release(found);
    answer_release(first);
    answer_release(second);
    cache_free(cache);
}

static void what_was_not_asked_for_the_longest_makes_room(void **state) {
    enum { EACH = LIMIT_CACHE_BYTES / 8 };
    char name[8];
    (void)state;
    struct cache *cache = cache_new();
    for (int i = 0; i < 8; i++) {
        (void)snprintf(name, sizeof name, "/%d", i);
        put(cache, CACHE_USUAL, name, EACH);
    }
    assert_true(has(cache, "/0"));
    put(cache, CACHE_USUAL, "/8", EACH);
    assert_true(has(cache, "/0"));
    assert_false(has(cache, "/1"));
    assert_true(has(cache, "/2"));
    put(cache, CACHE_USUAL, "/9", EACH);
    put(cache, CACHE_USUAL, "/10", EACH);
    assert_false(has(cache, "/3"));
    assert_false(has(cache, "/4"));
    assert_true(has(cache, "/2") && has(cache, "/0") && has(cache, "/10"));
    cache_free(cache);
}

/* However many different searches are typed. */
static void one_share_never_pushes_out_the_other(void **state) {
    char name[16];
    int left = 0;
    (void)state;
    struct cache *cache = cache_new();
    put(cache, CACHE_USUAL, "/board", 100000);
    for (int i = 0; i < 5000; i++) {
        (void)snprintf(name, sizeof name, "/typed%d", i);
        put(cache, CACHE_OTHER, name, 10000);
    }
    for (int i = 0; i < 5000; i++) {
        (void)snprintf(name, sizeof name, "/typed%d", i);
        left += has(cache, name);
    }
    assert_int_equal(left, LIMIT_CACHE_OTHER_BYTES / 10000);
    assert_true(has(cache, "/board"));
    cache_free(cache);
}

static void what_would_take_most_of_a_share_is_not_kept(void **state) {
    (void)state;
    struct cache *cache = cache_new();
    put(cache, CACHE_OTHER, "/a", LIMIT_CACHE_OTHER_BYTES / 2 + 1);
    assert_false(has(cache, "/a"));
    put(cache, CACHE_OTHER, "/a", LIMIT_CACHE_OTHER_BYTES / 2);
    assert_true(has(cache, "/a"));
    cache_free(cache);
    cache_free(NULL);
}

/* ---- many at once ---- */

enum { THREADS = 4, ROUNDS = 4000, NAMES = 40, ANSWER_BYTES = LIMIT_CACHE_OTHER_BYTES / 8 };

static struct cache *shared;
static atomic_int wrong;

/* Looks names up and adds those that are not there, where only eight have room: what is got is held
 * by who got it, however often it is pushed out meanwhile. */
static void *look_up_and_add(void *context) {
    unsigned seed = *(const unsigned *)context;
    for (int i = 0; i < ROUNDS; i++) {
        char name[16];
        seed = seed * 1103515245u + 12345u;
        unsigned number = (seed >> 16) % NAMES;
        (void)snprintf(name, sizeof name, "/%u", number);
        struct answer *found = cache_get(shared, name);
        if (found == NULL) {
            found = answer_of(ANSWER_BYTES);
            found->status = number;
            cache_put(shared, CACHE_OTHER, name, found);
        }
        if (found->status != number || atomic_load(&found->refs) < 1)
            atomic_fetch_add(&wrong, 1);
        answer_release(found);
    }
    return NULL;
}

static void many_threads_find_the_answer_of_the_name_and_hold_it(void **state) {
    static const unsigned seeds[THREADS] = {1, 22, 333, 4444};
    pthread_t threads[THREADS];
    int left = 0;
    (void)state;
    shared = cache_new();
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, look_up_and_add, (void *)&seeds[i]), 0);
    for (int i = 0; i < THREADS; i++)
        (void)pthread_join(threads[i], NULL);
    assert_int_equal(atomic_load(&wrong), 0);
    for (int i = 0; i < NAMES; i++) {
        char name[16];
        (void)snprintf(name, sizeof name, "/%d", i);
        left += has(shared, name);
    }
    assert_int_equal(left, 8);
    cache_free(shared);
}

/* Who holds an answer may go on sending it after the event's next revision has taken the cache
 * away. */
static void an_answer_outlives_its_cache(void **state) {
    (void)state;
    struct cache *cache = cache_new();
    put(cache, CACHE_USUAL, "/a", 10);
    struct answer *held = cache_get(cache, "/a");
    cache_free(cache);
    assert_int_equal(atomic_load(&held->refs), 1);
    assert_int_equal(held->bytes, 10);
    answer_release(held);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_of_a_name_stays),
        cmocka_unit_test(what_was_not_asked_for_the_longest_makes_room),
        cmocka_unit_test(one_share_never_pushes_out_the_other),
        cmocka_unit_test(what_would_take_most_of_a_share_is_not_kept),
        cmocka_unit_test(many_threads_find_the_answer_of_the_name_and_hold_it),
        cmocka_unit_test(an_answer_outlives_its_cache),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
