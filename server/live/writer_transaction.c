/* SPDX-License-Identifier: MIT */
/* One transaction: what it takes, brings to the disk, shows and answers. */
#include <string.h>

#include "base/err.h"
#include "live/writer_private.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "store/stored_keys.h"
#include "system/system_clock.h"

/* ---- what came of it ---- */

int write_decline(struct write *write, enum write_result result) {
    write->result = result;
    return ERR_OK;
}

void writer_fail(struct writer *w, struct write *write, const char *why) {
    write->result = WRITE_FAILED;
    if (write->why.len == 0)
        textbuf_puts(&write->why, why);
    atomic_fetch_add(&w->publisher->figures->failures, 1);
}

void writer_count_one(const struct write *write, struct write_figures *figures) {
    (void)write;
    atomic_fetch_add(&figures->accepted, 1);
}

static void answer(struct writer *w, struct write *write) {
    const struct write_operations *operations = write->operations;
    struct write_figures *figures = w->publisher->figures;
    /* What the next GET with this key shows. */
    write->revision = write->by_timekeeper ? w->public_revision : w->office_revision;
    if (write->result == WRITE_DONE) {
        atomic_fetch_add(&figures->uploads[operations->sort], 1);
        if (operations->count != NULL)
            operations->count(write, figures);
    }
    atomic_fetch_sub(&figures->waiting, 1);
    atomic_fetch_sub(&w->served->waiting, 1);
    write->done(write);
}

void writer_answer(struct writer *w, struct write *writes) {
    while (writes != NULL) {
        struct write *next = writes->next;
        answer(w, writes);
        writes = next;
    }
}

/* ---- what it takes ---- */

/* The key of a write, NULL where it is not in force any more. */
static const struct stored_key *key_of(const struct writer *w, const struct write *write) {
    for (size_t i = 0; i < w->keys->count; i++) {
        const struct stored_key *key = &w->keys->keys[i];
        if (!key->revoked && memcmp(key->hash, write->key_hash, sizeof key->hash) == 0)
            return key;
    }
    return NULL;
}

static int take(struct transaction *t, struct write *write) {
    const struct write_operations *operations = write->operations;
    t->key = NULL;
    if (operations->author != AUTHOR_CREW) {
        t->key = key_of(t->w, write);
        if (t->key == NULL || (!t->key->organiser && operations->author != AUTHOR_ANY_KEY))
            return write_decline(write, WRITE_UNAUTHORISED);
        write->by_timekeeper = !t->key->organiser;
    }
    return operations->take(t, write);
}

int transaction_add_upload(struct transaction *t, const struct write *head,
                           const struct write_body *body, int64_t *id) {
    return store_add_upload(t->w->store, t->now, "http", t->key->id, head->operations->upload,
                            body->media_type, body->text, body->len, id);
}

/* ---- to the disk ---- */

/* Rulings that follow from new decisions; what they reveal shows to the public. */
static int settle_decisions(struct transaction *t) {
    struct writer *w = t->w;
    struct model *model = w->model;
    int err = decisions_settle(model->decisions, "decisions", NULL);
    struct ruling_set *set = err == ERR_NOMEM ? NULL : ruling_set_new(w->shared);
    if (set == NULL)
        return ERR_NOMEM;
    for (int i = 0; i < model->rules->item_count; i++) {
        if (set->public_view->hidden[i] != w->set->public_view->hidden[i])
            t->public = true;
    }
    ruling_set_release(w->set);
    w->set = set;
    return ERR_OK;
}

static int commit(struct transaction *t) {
    struct writer *w = t->w;
    int err = t->decisions ? settle_decisions(t) : ERR_OK;
    if (err == ERR_OK && t->office)
        err = store_add_revision(w->store, w->office_revision + 1,
                                 w->public_revision + (t->public ? 1 : 0), t->now);
    if (err != ERR_OK) {
        store_rollback(w->store);
        return err;
    }
    return store_commit(w->store);
}

/* ---- what readers see of it ---- */

static void advance_revisions(const struct transaction *t) {
    struct writer *w = t->w;
    if (t->office) {
        w->office_revision++;
        w->office_ms = t->now;
    }
    if (t->public) {
        w->public_revision++;
        w->public_ms = t->now;
    }
}

/* Brings memory up to what is on the disk now. It is kept, whatever fails here: then all is loaded
 * again before anything else is written or shown. */
static void show(struct transaction *t) {
    struct writer *w = t->w;
    int err = ERR_OK;
    advance_revisions(t);
    if (t->next != NULL)
        err = writer_adopt(w, t->next);
    t->next = NULL;
    if (err == ERR_OK && t->notices)
        err = writer_load_notices(w);
    if (err == ERR_OK && t->keys)
        err = writer_load_keys(w);
    if (err != ERR_OK)
        w->must_reload = true;
    else if (t->office || t->keys)
        (void)writer_publish(w);
}

/* Nothing was kept: memory must not hold what the disk does not. */
static void undo(struct transaction *t, struct write *writes, int err) {
    struct writer *w = t->w;
    w->dirty = w->dirty || t->facts;
    const char *why = writer_failure(w, err);
    for (struct write *write = writes; write != NULL; write = write->next)
        writer_fail(w, write, why);
    if (w->dirty)
        (void)writer_load_event(w);
}

void writer_commit(struct writer *w, struct write *writes) {
    struct transaction t = {.w = w, .now = now_ms()};
    int64_t from = 0;
    int err = writer_begin(w);
    bool begun = err == ERR_OK;
    for (struct write *write = writes; err == ERR_OK && write != NULL; write = write->next)
        err = take(&t, write);
    from = monotonic_microseconds();
    if (err == ERR_OK && t.stores)
        err = commit(&t);
    else if (begun)
        store_rollback(w->store);
    if (err == ERR_OK && t.stores && writes->operations->batched)
        histogram_add(&w->publisher->figures->commit, monotonic_microseconds() - from);
    if (err != ERR_OK)
        undo(&t, writes, err);
    else if (t.stores)
        show(&t);
    model_free(t.next);
    writer_answer(w, writes);
}
