/* SPDX-License-Identifier: MIT */
/* What a reader holds while the writer goes on. */
#include "testing.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/err.h"
#include "live/notice_draft.h"
#include "served.h"
#include "system/hazard_pointers.h"

static struct served served;
static struct served_events *events;

static int set_up(void **state) {
    struct textbuf why = {0};
    (void)state;
    served_make(&served);
    assert_int_equal(served_events_new(served.folder, NULL, NULL, NULL, &why, &events), ERR_OK);
    assert_int_equal(served_events_count(events), 1);
    textbuf_clear(&why);
    return 0;
}

static int tear_down(void **state) {
    (void)state;
    served_events_free(events);
    served_remove(&served);
    return 0;
}

static struct snapshot *acquire(void) {
    struct snapshot *s = snapshot_acquire(&served_events_at(events, 0)->slot);
    assert_non_null(s);
    return s;
}

static struct served_event *event(void) {
    return served_events_find(events, SERVED_SLUG);
}

/* Does a write whose rows must all be taken. */
static void write_all(struct rows_write *write, int count) {
    served_write(&write->head);
    assert_int_equal(write->head.result, WRITE_DONE);
    assert_int_equal(write->accepted, count);
    write_free(&write->head);
}

static void decide(const char *rows, int count) {
    write_all(served_decisions(&served, event(), rows), count);
}

static void read_all(const char *rows, int count) {
    write_all(served_readings(&served, event(), rows), count);
}

/* The content of a provisional classification as an organiser is shown it. Owner: the caller. */
static char *preview(const struct snapshot *s) {
    struct notice_draft_request request = {SERVED_SLUG, "provisional", "", ""};
    struct notice_draft p = {0};
    assert_int_equal(notice_draft_make(&request, s->notices, s, 1940000000000, &p), ERR_OK);
    char *content = strdup(p.notice.content);
    notice_draft_clear(&p);
    assert_non_null(content);
    return content;
}

static void check_preview(const struct snapshot *s, const char *before) {
    char *now = preview(s);
    assert_string_equal(now, before);
    free(now);
}

BEHAVIOUR(decisions_that_come_are_not_seen_in_a_snapshot_that_is_held) {
    decide("[{'kind': 'penalty', 'car': 1, 'value': '10', 'reason': 'speed', 'id': 'first'}]", 1);
    struct snapshot *s = acquire();
    char *before = preview(s);
    assert_non_null(strstr(before, "\"id\":\"first\""));
    decide("[{'kind': 'penalty', 'car': 2, 'value': '20', 'reason': 'noise', 'id': 'second'}]", 1);
    assert_int_equal(s->event.decisions.count, 1);
    check_preview(s, before);
    struct snapshot *next = acquire();
    assert_int_equal(next->event.decisions.count, 2);
    assert_true(next->office_results.revision > s->office_results.revision);
    snapshot_release(next);
    snapshot_release(s);
    free(before);
}

BEHAVIOUR(a_decision_that_is_revoked_still_holds_in_a_snapshot_that_is_held) {
    decide("[{'kind': 'penalty', 'car': 1, 'value': '5', 'reason': 'flag', 'id': 'third'}]", 1);
    struct snapshot *s = acquire();
    int last = s->event.decisions.count - 1;
    char *before = preview(s);
    decide("[{'kind': 'revoke', 'value': 'third', 'reason': 'no flag', 'id': 'fourth'}]", 1);
    assert_true(s->event.decisions.list[last].holds);
    check_preview(s, before);
    struct snapshot *next = acquire();
    assert_false(next->event.decisions.list[last].holds);
    snapshot_release(next);
    snapshot_release(s);
    free(before);
}

BEHAVIOUR(readings_that_come_or_are_replaced_stay_as_they_were_in_a_snapshot_that_is_held) {
    read_all("[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a'}]", 1);
    struct snapshot *s = acquire();
    const struct readings_view seen = s->event.readings;
    char *before = preview(s);
    read_all("[{'point': 'PC1', 'car': 1, 'time': '09:01', 'id': 'b', 'replaces': 'a', "
             "'reason': 'misread'}, {'point': 'PC1', 'car': 2, 'time': '09:02', 'id': 'c'}]",
             2);
    assert_int_equal(seen.count, 1);
    assert_int_equal(readings_latest(seen, 0, 0), 0);
    assert_int_equal(readings_latest(seen, 1, 0), -1);
    assert_false(reading_is_replaced(seen, readings_view_at(seen, 0)));
    check_preview(s, before);
    struct snapshot *next = acquire();
    assert_true(reading_is_replaced(next->event.readings, readings_view_at(seen, 0)));
    assert_int_equal(readings_latest(next->event.readings, 1, 0), 2);
    snapshot_release(next);
    snapshot_release(s);
    free(before);
}

/* ---- many at once ---- */

enum { WRITERS = 2, WRITES_EACH = 60, PREVIEWS_LEAST = 50 };

static atomic_int writing;

static void *write_decisions(void *context) {
    int from = *(const int *)context;
    for (int i = 0; i < WRITES_EACH; i++) {
        char rows[256];
        (void)snprintf(
            rows, sizeof rows,
            "[{'kind': 'penalty', 'car': %d, 'value': '1', 'reason': 'r', 'id': 'w%d-%d'}, "
            "{'kind': 'revoke', 'value': 'w%d-%d', 'reason': 'r', 'id': 'r%d-%d'}]",
            1 + i % 2, from, i, from, i, from, i);
        struct rows_write *write = served_decisions(&served, event(), rows);
        served_write(&write->head);
        if (write->head.result != WRITE_DONE || write->accepted != 2)
            abort();
        write_free(&write->head);
    }
    atomic_fetch_sub(&writing, 1);
    return NULL;
}

BEHAVIOUR(a_preview_of_one_revision_is_always_the_same_while_decisions_are_posted) {
    static const int numbers[WRITERS] = {1, 2};
    pthread_t threads[WRITERS];
    int previews = 0;
    int most = 0;
    atomic_store(&writing, WRITERS);
    for (int i = 0; i < WRITERS; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, write_decisions, (void *)&numbers[i]),
                         0);
    for (; atomic_load(&writing) > 0 || previews < PREVIEWS_LEAST; previews++) {
        struct snapshot *s = acquire();
        char *first = preview(s);
        check_preview(s, first);
        /* As many as the revision held when it was made, and in pairs: no batch is half there. */
        int count = 0;
        for (const char *at = first; (at = strstr(at, "\"kind\":\"revoke\"")) != NULL; at++)
            count++;
        if (s->event.decisions.count > most)
            most = s->event.decisions.count;
        int revokes = 0;
        for (int i = 0; i < s->event.decisions.count; i++)
            revokes += s->event.decisions.list[i].decision->kind == DECIDE_REVOKE;
        assert_int_equal(count, revokes);
        free(first);
        snapshot_release(s);
    }
    for (int i = 0; i < WRITERS; i++)
        (void)pthread_join(threads[i], NULL);
    struct snapshot *last = acquire();
    assert_true(last->event.decisions.count >= 2 * WRITERS * WRITES_EACH);
    assert_true(most > 0);
    snapshot_release(last);
}

/* ---- hazards ---- */

static atomic_bool has_one;

static void *take_one_more(void *context) {
    struct hazard *hazard = hazard_take(context);
    atomic_store(&has_one, true);
    hazard_give(hazard);
    return NULL;
}

BEHAVIOUR(a_hazard_is_never_shared_and_who_finds_none_waits) {
    struct hazard *taken[HAZARD_COUNT];
    int thing = 0;
    pthread_t thread;
    for (size_t i = 0; i < HAZARD_COUNT; i++) {
        taken[i] = hazard_take(&thing);
        for (size_t k = 0; k < i; k++)
            assert_ptr_not_equal(taken[k], taken[i]);
    }
    assert_int_equal(pthread_create(&thread, NULL, take_one_more, &thing), 0);
    (void)nanosleep(&(struct timespec){.tv_nsec = 20000000}, NULL);
    assert_false(atomic_load(&has_one));
    hazard_give(taken[HAZARD_COUNT / 2]);
    (void)pthread_join(thread, NULL);
    assert_true(atomic_load(&has_one));
    for (size_t i = 0; i < HAZARD_COUNT; i++)
        hazard_give(taken[i]);
    hazards_wait_for(&thing);
}

/* More threads than there are hazards, all alive. */
enum { READERS = 2 * HAZARD_COUNT, HOLDS_EACH = 300, SWAPS_LEAST = 20 };

static struct snapshot_slot slot;
static atomic_int reading, swaps, gone_early;

static struct snapshot *make_snapshot(int64_t revision) {
    struct snapshot *s = calloc(1, sizeof *s);
    if (s == NULL)
        abort();
    atomic_init(&s->refs, 1);
    s->office_results.revision = s->public_results.revision = revision;
    s->office_results.borrowed = s->public_results.borrowed = true;
    return s;
}

static void *hold_and_let_go(void *context) {
    (void)context;
    for (int i = 0; i < HOLDS_EACH || atomic_load(&swaps) < SWAPS_LEAST; i++) {
        struct snapshot *s = snapshot_acquire(&slot);
        if (s->office_results.revision != s->public_results.revision || atomic_load(&s->refs) < 1)
            atomic_fetch_add(&gone_early, 1);
        snapshot_release(s);
        (void)nanosleep(&(struct timespec){.tv_nsec = 20000}, NULL);
    }
    atomic_fetch_sub(&reading, 1);
    return NULL;
}

BEHAVIOUR(more_threads_than_marks_take_hold_of_snapshots_that_stay) {
    pthread_t threads[READERS];
    int64_t revision = 1;
    atomic_store(&slot.current, make_snapshot(revision));
    atomic_store(&reading, READERS);
    for (int i = 0; i < READERS; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, hold_and_let_go, NULL), 0);
    for (; atomic_load(&reading) > 0; atomic_fetch_add(&swaps, 1))
        snapshot_swap(&slot, make_snapshot(++revision));
    for (int i = 0; i < READERS; i++)
        (void)pthread_join(threads[i], NULL);
    snapshot_swap(&slot, NULL);
    assert_null(snapshot_acquire(&slot));
    assert_int_equal(atomic_load(&gone_early), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decisions_that_come_are_not_seen_in_a_snapshot_that_is_held),
        cmocka_unit_test(a_decision_that_is_revoked_still_holds_in_a_snapshot_that_is_held),
        cmocka_unit_test(
            readings_that_come_or_are_replaced_stay_as_they_were_in_a_snapshot_that_is_held),
        cmocka_unit_test(a_preview_of_one_revision_is_always_the_same_while_decisions_are_posted),
        cmocka_unit_test(a_hazard_is_never_shared_and_who_finds_none_waits),
        cmocka_unit_test(more_threads_than_marks_take_hold_of_snapshots_that_stay),
    };
    return cmocka_run_group_tests_name("snapshot", tests, set_up, tear_down);
}
