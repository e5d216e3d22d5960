/* SPDX-License-Identifier: MIT */
/* The events of a folder, and their queues while they cannot be written, since somebody else holds
 * a file's lock. */
#include "testing.h"

#include <stdatomic.h>
#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "served.h"
#include "store/store.h"
#include "store/stored_keys.h"
#include "system/hard_limits.h"

static struct served served;
static struct served_events *events;
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

static void done(struct write *head) {
    assert_int_equal(head->result, WRITE_DONE);
    write_free(head);
    atomic_fetch_add(&done_count, 1);
}

/* Submits an empty write to an event. Returns what the queue says. */
static int submit(struct rows_write *write) {
    write->head.done = done;
    int err = write_submit(&write->head);
    if (err != ERR_OK)
        write_free(&write->head);
    return err;
}

static int submit_readings(struct served_event *event) {
    return submit(served_readings(&served, event, "[]"));
}

static int submit_decisions(struct served_event *event) {
    return submit(served_decisions(&served, event, "[]"));
}

static void open_events(int count) {
    struct textbuf why = {0};
    atomic_store(&done_count, 0);
    assert_int_equal(served_events_new(served.folder, NULL, NULL, NULL, &why, &events), ERR_OK);
    assert_int_equal(served_events_count(events), count);
    textbuf_clear(&why);
}

/* A queue that fills up refuses rulings before readings; every write that it has accepted is done
 * in the end. */
BEHAVIOUR(a_full_queue_refuses_at_once_and_keeps_room_for_readings) {
    struct store *other = NULL;
    int taken = 0;
    open_events(1);
    assert_int_equal(store_open(served.path, STORE_OPEN, &other, NULL), ERR_OK);
    assert_int_equal(store_begin(other), ERR_OK);
    while (taken <= LIMIT_QUEUE_EVENT && submit_decisions(served_events_at(events, 0)) == ERR_OK)
        taken++;
    assert_int_equal(taken, LIMIT_QUEUE_EVENT - LIMIT_QUEUE_KEPT);
    while (taken <= LIMIT_QUEUE_EVENT && submit_readings(served_events_at(events, 0)) == ERR_OK)
        taken++;
    assert_int_equal(taken, LIMIT_QUEUE_EVENT);
    assert_int_equal(submit_decisions(served_events_at(events, 0)), ERR_BUSY);
    assert_int_equal(atomic_load(&served_events_figures(events)->waiting), LIMIT_QUEUE_EVENT);
    store_rollback(other);
    store_close(other);
    served_events_stop(events);
    assert_int_equal(atomic_load(&done_count), taken);
    assert_int_equal(atomic_load(&served_events_figures(events)->waiting), 0);
    assert_int_equal(submit_readings(served_events_at(events, 0)), ERR_BUSY);
    served_events_free(events);
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

/* Two events that cannot be written fill the room for waiting writes, each its own half: the one
 * with more writes takes no room of the other. */
BEHAVIOUR(no_event_takes_the_room_of_the_others) {
    static const char *const slugs[] = {"a-second", "b-third"};
    struct neighbour neighbours[COUNT_OF(slugs)] = {0};
    struct store *other = NULL;
    int taken = 0;
    for (size_t i = 0; i < COUNT_OF(slugs); i++)
        copy_event(&neighbours[i], slugs[i]);
    open_events(1 + (int)COUNT_OF(slugs));
    assert_int_equal(store_open(served.path, STORE_OPEN, &other, NULL), ERR_OK);
    assert_int_equal(store_begin(other), ERR_OK);
    for (size_t i = 0; i < COUNT_OF(slugs); i++) {
        assert_int_equal(store_open(neighbours[i].path, STORE_OPEN, &neighbours[i].lock, NULL),
                         ERR_OK);
        assert_int_equal(store_begin(neighbours[i].lock), ERR_OK);
    }
    for (size_t i = 0; i < COUNT_OF(slugs); i++) {
        struct served_event *event = served_events_find(events, slugs[i]);
        int own = 0;
        while (own <= LIMIT_QUEUE && submit_readings(event) == ERR_OK)
            own++;
        assert_int_equal(own, LIMIT_QUEUE_EVENT);
        taken += own;
    }
    assert_int_equal(taken, LIMIT_QUEUE);
    assert_int_equal(submit_readings(served_events_find(events, SERVED_SLUG)), ERR_BUSY);
    store_rollback(other);
    store_close(other);
    for (size_t i = 0; i < COUNT_OF(slugs); i++) {
        store_rollback(neighbours[i].lock);
        store_close(neighbours[i].lock);
    }
    served_events_stop(events);
    assert_int_equal(atomic_load(&done_count), taken);
    served_events_free(events);
    for (size_t i = 0; i < COUNT_OF(slugs); i++)
        served_remove_file(neighbours[i].path);
}

static struct snapshot *acquire(void) {
    struct snapshot *s = snapshot_acquire(&served_events_find(events, SERVED_SLUG)->slot);
    assert_non_null(s);
    return s;
}

/* A key on the command line, say. */
static void add_key_beside(void) {
    struct store *store = NULL;
    unsigned char hash[32] = {1};
    int64_t id = 0;
    assert_int_equal(store_open(served.path, STORE_OPEN, &store, NULL), ERR_OK);
    assert_int_equal(store_begin(store), ERR_OK);
    assert_int_equal(store_add_key(store, hash, false, "PC1", "", 1, &id), ERR_OK);
    assert_int_equal(store_commit(store), ERR_OK);
    store_close(store);
}

BEHAVIOUR(what_another_process_wrote_is_shown_when_the_wait_for_it_ends) {
    open_events(1);
    struct snapshot *before = acquire();
    add_key_beside();
    served_event_refresh(served_events_at(events, 0));
    struct snapshot *now = acquire();
    assert_int_equal(now->keys->count, before->keys->count + 1);
    snapshot_release(now);
    snapshot_release(before);
    served_events_free(events);
}

BEHAVIOUR(an_event_is_found_by_its_slug_and_no_other_is) {
    open_events(1);
    assert_ptr_equal(served_events_find(events, SERVED_SLUG), served_events_at(events, 0));
    assert_null(served_events_find(events, "nowhere"));
    assert_false(served_events_is_opening(events, "nowhere"));
    assert_null(served_event_trouble(served_events_at(events, 0)));
    served_events_free(events);
    served_events_free(NULL);
}

BEHAVIOUR(a_file_that_cannot_be_opened_is_named_and_the_others_are_served) {
    char path[96];
    struct textbuf why = {0};
    (void)snprintf(path, sizeof path, "%s/broken.cairn", served.folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    (void)fputs("This was never an event.", file);
    (void)fclose(file);
    assert_int_equal(served_events_new(served.folder, NULL, NULL, NULL, &why, &events), ERR_OK);
    assert_int_equal(served_events_count(events), 1);
    assert_non_null(served_events_find(events, SERVED_SLUG));
    assert_non_null(strstr(textbuf_text(&why), "broken.cairn"));
    served_events_free(events);
    served_remove_file(path);
    textbuf_clear(&why);
}

/* How many snapshots were published, and how many came without the one before. */
static atomic_int published_count, gaps;

static void published(void *context, struct served_event *event, const struct snapshot *before,
                      const struct snapshot *now) {
    static _Atomic(const struct snapshot *) last;
    (void)context;
    (void)event;
    if (before != atomic_exchange(&last, now))
        atomic_fetch_add(&gaps, 1);
    atomic_fetch_add(&published_count, 1);
}

BEHAVIOUR(each_snapshot_is_told_with_the_one_before_it) {
    struct textbuf why = {0};
    assert_int_equal(served_events_new(served.folder, NULL, published, NULL, &why, &events),
                     ERR_OK);
    assert_int_equal(atomic_load(&published_count), 1);
    struct rows_write *write =
        served_readings(&served, served_events_at(events, 0),
                        "[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'told'}]");
    served_write(&write->head);
    assert_int_equal(write->head.result, WRITE_DONE);
    /* Before the write is answered. */
    assert_int_equal(atomic_load(&published_count), 2);
    assert_int_equal(atomic_load(&gaps), 0);
    write_free(&write->head);
    served_events_free(events);
    textbuf_clear(&why);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_queue_refuses_at_once_and_keeps_room_for_readings),
        cmocka_unit_test(no_event_takes_the_room_of_the_others),
        cmocka_unit_test(what_another_process_wrote_is_shown_when_the_wait_for_it_ends),
        cmocka_unit_test(an_event_is_found_by_its_slug_and_no_other_is),
        cmocka_unit_test(a_file_that_cannot_be_opened_is_named_and_the_others_are_served),
        cmocka_unit_test(each_snapshot_is_told_with_the_one_before_it),
    };
    return cmocka_run_group_tests_name("served events", tests, set_up, tear_down);
}
