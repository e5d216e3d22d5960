/* SPDX-License-Identifier: MIT */
/* The queue of an event while it cannot be written, since somebody else holds the file's lock. */
#include "testing.h"

#include <stdatomic.h>

#include "err.h"
#include "hard_limits.h"
#include "served.h"

static struct served served;
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

static void done(struct job *job) {
    assert_int_equal(job->result, JOB_DONE);
    job_free(job);
    atomic_fetch_add(&done_count, 1);
}

/* Submits an empty write. Returns what the queue says. */
static int submit(struct scorekeeper *keeper, enum job_kind kind) {
    struct job *job = served_job(&served, scorekeeper_at(keeper, 0), kind, "[]");
    job->done = done;
    int err = scorekeeper_submit(keeper, job);
    if (err != ERR_OK)
        job_free(job);
    return err;
}

/* Rulings stop before readings do; every write that was taken into the queue is done in the end. */
BEHAVIOUR(a_full_queue_refuses_at_once_and_keeps_room_for_readings) {
    struct scorekeeper *keeper = NULL;
    struct store *other = NULL;
    struct textbuf why = {0};
    int taken = 0;
    assert_int_equal(scorekeeper_new(served.folder, NULL, NULL, NULL, &why, &keeper), ERR_OK);
    assert_int_equal(scorekeeper_count(keeper), 1);
    assert_int_equal(store_open(served.path, STORE_OPEN, &other, NULL), ERR_OK);
    assert_int_equal(store_begin(other), ERR_OK);
    while (taken <= LIMIT_QUEUE_EVENT && submit(keeper, JOB_DECISIONS) == ERR_OK)
        taken++;
    assert_int_equal(taken, LIMIT_QUEUE_EVENT - LIMIT_QUEUE_KEPT);
    while (taken <= LIMIT_QUEUE_EVENT && submit(keeper, JOB_READINGS) == ERR_OK)
        taken++;
    assert_int_equal(taken, LIMIT_QUEUE_EVENT);
    assert_int_equal(submit(keeper, JOB_DECISIONS), ERR_BUSY);
    assert_int_equal(atomic_load(&scorekeeper_figures(keeper)->waiting), LIMIT_QUEUE_EVENT);
    store_rollback(other);
    store_close(other);
    scorekeeper_stop(keeper);
    assert_int_equal(atomic_load(&done_count), taken);
    assert_int_equal(atomic_load(&scorekeeper_figures(keeper)->waiting), 0);
    assert_int_equal(submit(keeper, JOB_READINGS), ERR_BUSY);
    scorekeeper_free(keeper);
    textbuf_clear(&why);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_queue_refuses_at_once_and_keeps_room_for_readings),
    };
    return cmocka_run_group_tests_name("queue", tests, set_up, tear_down);
}
