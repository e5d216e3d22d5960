/* SPDX-License-Identifier: MIT */
/* Memory out at every n-th request while a batch is written: what is answered is true. A write that
 * is told as kept is on the disk, with every refused row told; of one that is told as failed
 * nothing is; and nobody sees what the disk does not hold, whatever is written next. */
#include "testing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "live/writer.h"
#include "served.h"

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *old, size_t size);
char *__real_strdup(const char *text);
char *__real_strndup(const char *text, size_t len);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *old, size_t size);
char *__wrap_strdup(const char *text);
char *__wrap_strndup(const char *text, size_t len);

/* Requests until one is refused, and how many are then refused one after the other; below 0 none
 * is. */
static long left = -1;
static long refusals;

static bool refused(void) {
    if (left < 0 || left-- > 0)
        return false;
    if (--refusals > 0)
        left = 0;
    return true;
}

void *__wrap_malloc(size_t size) {
    return refused() ? NULL : __real_malloc(size);
}

void *__wrap_calloc(size_t count, size_t size) {
    return refused() ? NULL : __real_calloc(count, size);
}

void *__wrap_realloc(void *old, size_t size) {
    return refused() ? NULL : __real_realloc(old, size);
}

char *__wrap_strdup(const char *text) {
    return refused() ? NULL : __real_strdup(text);
}

char *__wrap_strndup(const char *text, size_t len) {
    return refused() ? NULL : __real_strndup(text, len);
}

static struct served served;
static struct served_event shown_event = {.slug = SERVED_SLUG};
static struct write_queue_figures figures;
static struct publisher publisher = {.figures = &figures};
static struct writer *writer;

static int set_up(void **state) {
    struct textbuf why = {0};
    (void)state;
    served_make(&served);
    assert_int_equal(writer_open(served.folder, &shown_event, &publisher, &writer, &why), ERR_OK);
    textbuf_clear(&why);
    return 0;
}

static int tear_down(void **state) {
    (void)state;
    writer_close(writer);
    served_remove(&served);
    return 0;
}

static void done(struct write *write) {
    *(bool *)write->context = true;
}

/* The readings and decisions that the disk holds. Owner: the caller. */
static struct model *on_disk(void) {
    struct store *store = NULL;
    struct model *model = NULL;
    assert_int_equal(store_open(served.path, STORE_READ, &store, NULL), ERR_OK);
    assert_int_equal(store_load_event(store, &model), ERR_OK);
    store_close(store);
    return model;
}

static int counts_of(const struct event *e) {
    return 1000 * e->readings.count + e->decisions.count;
}

/* Whoever reads sees what the disk holds, or what it held before. */
static void check_shown(const struct model *disk, int before) {
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    assert_non_null(s);
    int shown = counts_of(&s->event);
    assert_true(shown == counts_of(&disk->event) || shown == before);
    snapshot_release(s);
}

/* Two writes in one batch, with two rows of each to refuse; `n` makes their ids. Returns true where
 * both were kept. */
static bool write_batch(long n, long refuse_at, long count) {
    static const char *const ids[] = {"a%ld", "b%ld", "c%ld"};
    char readings[512];
    char decisions[512];
    bool answered[2] = {false, false};
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    int before = counts_of(&s->event);
    snapshot_release(s);
    (void)snprintf(readings, sizeof readings,
                   "[{'point': 'PC1', 'car': 1, 'time': '09:00', 'id': 'a%ld'}, {'point': 'PC9', "
                   "'car': 1, 'time': '09:00', 'id': 'x%ld'}, {'point': 'PC2', 'car': 2, "
                   "'time': '09:00', 'id': 'b%ld'}, {'point': 'PC1', 'car': 7, 'time': '09:00', "
                   "'id': 'y%ld'}]",
                   n, n, n, n);
    (void)snprintf(decisions, sizeof decisions,
                   "[{'kind': 'penalty', 'car': 1, 'value': '1', 'reason': 'r', 'id': 'c%ld'}, "
                   "{'kind': 'penalty', 'car': 8, 'value': '1', 'reason': 'r', 'id': 'z%ld'}]",
                   n, n);
    struct write *writes[2] = {served_write_new(&served, &shown_event, WRITE_READINGS, readings),
                               served_write_new(&served, &shown_event, WRITE_DECISIONS, decisions)};
    for (int i = 0; i < 2; i++) {
        writes[i]->done = done;
        writes[i]->context = &answered[i];
        atomic_fetch_add(&shown_event.waiting, 1);
        atomic_fetch_add(&figures.waiting, 1);
    }
    writes[0]->next = writes[1];
    left = refuse_at;
    refusals = count;
    writer_work(writer, writes[0]);
    left = -1;
    assert_true(answered[0] && answered[1]);
    assert_int_equal(atomic_load(&shown_event.waiting), 0);
    struct model *disk = on_disk();
    bool kept[2] = {writes[0]->result == WRITE_DONE, writes[1]->result == WRITE_DONE};
    for (int i = 0; i < 3; i++) {
        char id[32];
        (void)snprintf(id, sizeof id, ids[i], n);
        bool there = i < 2 ? readings_find(disk->readings, id) >= 0
                           : decisions_find(disk->decisions, id) >= 0;
        assert_int_equal(there, kept[i / 2]);
    }
    for (int i = 0; i < 2; i++) {
        assert_true(kept[i] || writes[i]->result == WRITE_FAILED);
        if (kept[i])
            assert_int_equal(writes[i]->refused_count, 2 - i);
        for (size_t k = 0; kept[i] && k < writes[i]->refused_count; k++) {
            assert_non_null(writes[i]->refused[k].id);
            assert_non_null(writes[i]->refused[k].reason);
        }
        if (!kept[i])
            assert_int_equal(writes[i]->accepted, 0);
        write_free(writes[i]);
    }
    check_shown(disk, before);
    model_free(disk);
    return kept[0] && kept[1];
}

/* A key, for which the snapshot is made again: from what the disk holds. */
static void make_key(void) {
    bool answered = false;
    struct write *write = served_write_new(&served, &shown_event, WRITE_READINGS, "[]");
    write->kind = WRITE_KEY;
    write->new_key.points = "PC1";
    write->new_key.label = "";
    key_make(write->new_key.text);
    write->done = done;
    write->context = &answered;
    atomic_fetch_add(&shown_event.waiting, 1);
    writer_work(writer, write);
    assert_true(answered);
    assert_int_equal(write->result, WRITE_DONE);
    write_free(write);
    struct model *disk = on_disk();
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    assert_int_equal(counts_of(&s->event), counts_of(&disk->event));
    snapshot_release(s);
    model_free(disk);
}

/* Refuses `count` requests in a row from the first on, from the second on and so forth, until a
 * batch asks for fewer. */
static void refuse_from_every_request(long first_id, long count) {
    long failures = 0;
    for (long n = 0;; n++) {
        bool kept = write_batch(first_id + n, n, count);
        bool reached = refusals < count;
        make_key();
        if (!reached) {
            assert_true(kept);
            break;
        }
        failures += !kept;
    }
    /* Before the commit, where nothing may be kept; what is refused behind it is only not shown. */
    assert_true(failures > 20);
}

BEHAVIOUR(one_refused_request_leaves_what_is_answered_true) {
    refuse_from_every_request(1000000, 1);
}

/* So many that the event cannot be loaded again at once either. */
BEHAVIOUR(no_memory_for_a_while_leaves_what_is_answered_true) {
    refuse_from_every_request(2000000, 1000000);
}

/* What the disk holds is shown, scored as it would be anew. */
static void check_scores(void) {
    struct snapshot *s = snapshot_acquire(&shown_event.slot);
    struct model *disk = on_disk();
    struct scores *anew = NULL;
    assert_non_null(s);
    assert_int_equal(counts_of(&s->event), counts_of(&disk->event));
    model_free(disk);
    assert_int_equal(scores_new(&s->event, s->office_results.view, &anew), ERR_OK);
    for (int i = 0; i < s->event.entries->count; i++) {
        assert_int_equal(s->office_results.scores->cars[i].through, anew->cars[i].through);
        assert_int_equal(s->office_results.scores->cars[i].awaited, anew->cars[i].awaited);
    }
    scores_free(anew);
    snapshot_release(s);
}

/* One reading, or word that the one before is void, with the n-th request refused. Returns true
 * where it was kept. */
static bool write_reading(long n, bool is_void, long last) {
    char row[256];
    bool answered = false;
    int len =
        snprintf(row, sizeof row, "[{'point': 'PC1', 'car': 2, 'time': '09:00', 'id': 'one%ld'", n);
    if (is_void)
        len += snprintf(row + len, sizeof row - (size_t)len,
                        ", 'replaces': 'one%ld', 'void': true, 'reason': 'r'", last);
    (void)snprintf(row + len, sizeof row - (size_t)len, "}]");
    struct write *write = served_write_new(&served, &shown_event, WRITE_READINGS, row);
    write->done = done;
    write->context = &answered;
    atomic_fetch_add(&shown_event.waiting, 1);
    left = n;
    refusals = 1;
    writer_work(writer, write);
    left = -1;
    assert_true(answered);
    bool kept = write->result == WRITE_DONE;
    assert_int_equal(write->accepted, kept);
    write_free(write);
    return kept;
}

BEHAVIOUR(what_could_not_be_shown_is_at_the_next_look) {
    long last = -1; /* the reading that counts */
    for (long n = 0; refusals < 1 || n == 0; n++) {
        bool is_void = last >= 0;
        if (write_reading(n, is_void, last))
            last = is_void ? -1 : n;
        writer_refresh(writer);
        check_scores();
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_refused_request_leaves_what_is_answered_true),
        cmocka_unit_test(no_memory_for_a_while_leaves_what_is_answered_true),
        cmocka_unit_test(what_could_not_be_shown_is_at_the_next_look),
    };
    return cmocka_run_group_tests_name("writer_nomem", tests, set_up, tear_down);
}
