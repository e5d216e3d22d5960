/* SPDX-License-Identifier: MIT */
/* The queue of an event while it cannot be written, since somebody else holds the file's lock. */
#include "testing.h"

#include <stdatomic.h>
#include <stdio.h>

#include "base/err.h"
#include "served.h"
#include "system/hard_limits.h"

static struct served served;
static struct write_queue *queue;
static atomic_int done_count;

static int set_up(void **state) {
    (void)state;
    served_make(&served);
    return 0;
}

static int tear_down(void **state) {
    (void)state;
    served_remove(&served);
    return 0;
}

static void done(struct write *write) {
    assert_int_equal(write->result, WRITE_DONE);
    write_free(write);
    atomic_fetch_add(&done_count, 1);
}

/* Submits an empty write to an event. Returns what the queue says. */
static int submit_to(struct served_event *event, enum write_kind kind) {
    struct write *write = served_write_new(&served, event, kind, "[]");
    write->done = done;
    int err = write_queue_submit(queue, write);
    if (err != ERR_OK)
        write_free(write);
    return err;
}

static int submit(enum write_kind kind) {
    return submit_to(write_queue_at(queue, 0), kind);
}

static void open_keeper(int events) {
    struct textbuf why = {0};
    atomic_store(&done_count, 0);
    assert_int_equal(write_queue_new(served.folder, NULL, NULL, NULL, &why, &queue), ERR_OK);
    assert_int_equal(write_queue_count(queue), events);
    textbuf_clear(&why);
}

/* Rulings stop before readings do; every write that was taken into the queue is done in the end. */
BEHAVIOUR(a_full_queue_refuses_at_once_and_keeps_room_for_readings) {
    struct store *other = NULL;
    int taken = 0;
    open_keeper(1);
    assert_int_equal(store_open(served.path, STORE_OPEN, &other, NULL), ERR_OK);
    assert_int_equal(store_begin(other), ERR_OK);
    while (taken <= LIMIT_QUEUE_EVENT && submit(WRITE_DECISIONS) == ERR_OK)
        taken++;
    assert_int_equal(taken, LIMIT_QUEUE_EVENT - LIMIT_QUEUE_KEPT);
    while (taken <= LIMIT_QUEUE_EVENT && submit(WRITE_READINGS) == ERR_OK)
        taken++;
    assert_int_equal(taken, LIMIT_QUEUE_EVENT);
    assert_int_equal(submit(WRITE_DECISIONS), ERR_BUSY);
    assert_int_equal(atomic_load(&write_queue_figures(queue)->waiting), LIMIT_QUEUE_EVENT);
    store_rollback(other);
    store_close(other);
    write_queue_stop(queue);
    assert_int_equal(atomic_load(&done_count), taken);
    assert_int_equal(atomic_load(&write_queue_figures(queue)->waiting), 0);
    assert_int_equal(submit(WRITE_READINGS), ERR_BUSY);
    write_queue_free(queue);
}

/* The same event file under another name, held by somebody else. */
struct neighbour {
    char path[96];
    struct store *lock;
};

static void copy_event(struct neighbour *n, const char *slug) {
    struct store *store = NULL;
    (void)snprintf(n->path, sizeof n->path, "%s/%s.cairn", served.folder, slug);
    assert_int_equal(store_open(served.path, STORE_OPEN, &store, NULL), ERR_OK);
    assert_int_equal(store_backup(store, n->path, false), ERR_OK);
    store_close(store);
}

/* Two events that cannot be written fill what may wait in all, each its own half: the one that has
 * more to come takes nothing from the other. */
BEHAVIOUR(no_event_takes_the_room_of_the_others) {
    static const char *const slugs[] = {"a-second", "b-third"};
    struct neighbour neighbours[COUNT_OF(slugs)] = {0};
    struct store *other = NULL;
    int taken = 0;
    for (size_t i = 0; i < COUNT_OF(slugs); i++)
        copy_event(&neighbours[i], slugs[i]);
    open_keeper(1 + (int)COUNT_OF(slugs));
    assert_int_equal(store_open(served.path, STORE_OPEN, &other, NULL), ERR_OK);
    assert_int_equal(store_begin(other), ERR_OK);
    for (size_t i = 0; i < COUNT_OF(slugs); i++) {
        assert_int_equal(store_open(neighbours[i].path, STORE_OPEN, &neighbours[i].lock, NULL),
                         ERR_OK);
        assert_int_equal(store_begin(neighbours[i].lock), ERR_OK);
    }
    for (size_t i = 0; i < COUNT_OF(slugs); i++) {
        struct served_event *event = write_queue_find(queue, slugs[i]);
        int own = 0;
        while (own <= LIMIT_QUEUE && submit_to(event, WRITE_READINGS) == ERR_OK)
            own++;
        assert_int_equal(own, LIMIT_QUEUE_EVENT);
        taken += own;
    }
    assert_int_equal(taken, LIMIT_QUEUE);
    assert_int_equal(submit_to(write_queue_find(queue, SERVED_SLUG), WRITE_READINGS), ERR_BUSY);
    store_rollback(other);
    store_close(other);
    for (size_t i = 0; i < COUNT_OF(slugs); i++) {
        store_rollback(neighbours[i].lock);
        store_close(neighbours[i].lock);
    }
    write_queue_stop(queue);
    assert_int_equal(atomic_load(&done_count), taken);
    write_queue_free(queue);
    for (size_t i = 0; i < COUNT_OF(slugs); i++)
        served_remove_file(neighbours[i].path);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_queue_refuses_at_once_and_keeps_room_for_readings),
        cmocka_unit_test(no_event_takes_the_room_of_the_others),
    };
    return cmocka_run_group_tests_name("queue", tests, set_up, tear_down);
}
