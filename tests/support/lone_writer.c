/* SPDX-License-Identifier: MIT */
#include "lone_writer.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "store/store.h"
#include "testing.h"

struct served served;
struct served_event event = {.slug = SERVED_SLUG};
struct write_figures figures;
static struct publisher publisher = {.figures = &figures};
struct writer *writer;
static int done_count;

int lone_writer_set_up(void **state) {
    struct textbuf why = {0};
    (void)state;
    served_make(&served);
    memset(&figures, 0, sizeof figures);
    done_count = 0;
    assert_int_equal(writer_open(served.folder, &event, &publisher, &writer, &why), ERR_OK);
    textbuf_clear(&why);
    return 0;
}

int lone_writer_tear_down(void **state) {
    (void)state;
    char key[128];
    (void)snprintf(key, sizeof key, "%s/" SERVED_SLUG ".signing", served.folder);
    (void)unlink(key); /* of who posted a notice */
    writer_close(writer);
    served_remove(&served);
    return 0;
}

/* ---- doing writes ---- */

static void done(struct write *head) {
    (void)head;
    done_count++;
}

void work(struct write **heads, int count) {
    for (int i = 0; i < count; i++) {
        heads[i]->done = done;
        heads[i]->next = i + 1 < count ? heads[i + 1] : NULL;
        atomic_fetch_add(&event.waiting, 1);
        atomic_fetch_add(&figures.waiting, 1);
    }
    int before = done_count;
    writer_work(writer, heads[0]);
    assert_int_equal(done_count - before, count);
    assert_int_equal(atomic_load(&event.waiting), 0);
    assert_int_equal(atomic_load(&figures.waiting), 0);
}

enum write_result work_one(struct write *head) {
    work(&head, 1);
    return head->result;
}

struct rows_write *readings(const char *rows) {
    return served_readings(&served, &event, rows);
}

struct rows_write *decisions(const char *rows) {
    return served_decisions(&served, &event, rows);
}

void read_one(const char *row) {
    struct rows_write *write = readings(row);
    assert_int_equal(work_one(&write->head), WRITE_DONE);
    assert_int_equal(write->accepted, 1);
    write_free(&write->head);
}

/* ---- looking ---- */

struct snapshot *acquire(void) {
    struct snapshot *s = snapshot_acquire(&event.slot);
    assert_non_null(s);
    return s;
}

int64_t office_revision(void) {
    struct snapshot *s = acquire();
    int64_t revision = s->office_results.revision;
    snapshot_release(s);
    return revision;
}

int64_t public_revision(void) {
    struct snapshot *s = acquire();
    int64_t revision = s->public_results.revision;
    snapshot_release(s);
    return revision;
}

int shown_readings(void) {
    struct snapshot *s = acquire();
    int count = s->event.readings.count;
    snapshot_release(s);
    return count;
}

bool is_kept(const char *id) {
    struct store *store = NULL;
    struct model *model = NULL;
    assert_int_equal(store_open(served.path, STORE_READ, &store, NULL), ERR_OK);
    assert_int_equal(store_load_event(store, &model), ERR_OK);
    bool kept = readings_find(model->readings, id) >= 0;
    model_free(model);
    store_close(store);
    return kept;
}
