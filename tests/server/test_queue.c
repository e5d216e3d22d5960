/* SPDX-License-Identifier: MIT */
/* The writer's queue while the writer cannot write, since somebody else holds the file's lock. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "err.h"
#include "hard_limits.h"
#include "keys.h"
#include "scorekeeper.h"
#include "store.h"

static char folder[] = "/tmp/cairn-queue-XXXXXX";
static char path[64];
static unsigned char hash[32];
static atomic_int done_count;

static const char rules[] =
    "{\"name\":\"Skerry Run\",\"slug\":\"skerry\",\"timezone\":\"Atlantic/Azores\",\"unit\":\"km\","
    "\"days\":[{\"date\":\"2031-06-06\",\"first_start\":\"08:01\",\"interval\":\"00:01:00\","
    "\"order\":\"number\"}],\"classes\":{\"scheme\":\"fiva\"},\"scoring\":{},"
    "\"route\":[{\"day\":1,\"id\":\"PC1\",\"kind\":\"passage-control\",\"name\":\"Fulmar "
    "Bridge\"}]}";
static const char entries[] =
    "number,driver,navigator,make,model,year\n1,A. Thorne,,Calder,Six,1929\n";

static void add_document(struct store *store, const char *name, const char *text) {
    int64_t upload = 0;
    assert_int_equal(
        store_add_upload(store, 1, "import", 0, name, "text/plain", text, strlen(text), &upload),
        ERR_OK);
    assert_int_equal(store_add_document(store, name, upload), ERR_OK);
}

/* An event with one car, one point and an organiser's key. */
static int set_up(void **state) {
    struct store *store = NULL;
    int64_t id = 0;
    char text[KEY_TEXT_LEN + 1];
    (void)state;
    if (sodium_init() < 0 || mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/skerry.cairn", folder);
    assert_int_equal(store_open(path, STORE_CREATE, &store, NULL), ERR_OK);
    key_make(text);
    key_hash(text, hash);
    assert_int_equal(store_begin(store), ERR_OK);
    add_document(store, "event.json", rules);
    add_document(store, "entries.csv", entries);
    assert_int_equal(store_add_revision(store, 1, 1, 1), ERR_OK);
    assert_int_equal(store_add_key(store, hash, true, "", "", 1, &id), ERR_OK);
    assert_int_equal(store_commit(store), ERR_OK);
    store_close(store);
    return 0;
}

static int tear_down(void **state) {
    static const char *const ends[] = {"", "-wal", "-shm"};
    (void)state;
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        char name[80];
        (void)snprintf(name, sizeof name, "%s%s", path, ends[i]);
        (void)unlink(name);
    }
    return rmdir(folder);
}

static void done(struct job *job) {
    assert_int_equal(job->result, JOB_DONE);
    job_free(job);
    atomic_fetch_add(&done_count, 1);
}

/* Submits an empty write. Returns what the queue says. */
static int submit(struct scorekeeper *keeper, enum job_kind kind) {
    struct job *job = calloc(1, sizeof *job);
    assert_non_null(job);
    job->held = scorekeeper_at(keeper, 0);
    job->kind = kind;
    job->media_type = "application/json";
    job->if_match = "";
    job->body = strdup("[]");
    job->len = 2;
    job->done = done;
    memcpy(job->key_hash, hash, sizeof hash);
    int err = scorekeeper_submit(keeper, job);
    if (err != ERR_OK)
        job_free(job);
    return err;
}

/* Rulings stop before readings do; every write that was taken into the queue is done in the end. */
static void a_full_queue_refuses_at_once_and_keeps_room_for_readings(void **state) {
    struct scorekeeper *keeper = NULL;
    struct store *other = NULL;
    struct textbuf why = {0};
    int taken = 0;
    (void)state;
    assert_int_equal(scorekeeper_new(folder, NULL, NULL, NULL, &why, &keeper), ERR_OK);
    assert_int_equal(scorekeeper_count(keeper), 1);
    assert_int_equal(store_open(path, STORE_OPEN, &other, NULL), ERR_OK);
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
