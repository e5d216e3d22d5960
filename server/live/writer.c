/* SPDX-License-Identifier: MIT */
#include "live/writer.h"

#include <stdlib.h>

#include "base/err.h"
#include "live/writer_private.h"
#include "store/store.h"
#include "system/log.h"

void writer_log_failure(struct writer *w, int err, const char *what) {
    if (err != ERR_OK && !w->failure_logged)
        log_error(w->served->slug, "%s: %s", what, writer_failure(w, err));
    w->failure_logged = err != ERR_OK;
}

const char *writer_failure(const struct writer *w, int err) {
    const char *message = w->store == NULL ? "" : store_message(w->store);
    return *message != '\0' ? message : err_text(err);
}

/* ---- the beginning and the end ---- */

int writer_open(const char *data_dir, struct served_event *served,
                const struct publisher *publisher, struct writer **out, struct textbuf *why) {
    struct writer *w = calloc(1, sizeof *w);
    *out = NULL;
    if (w == NULL)
        return ERR_NOMEM;
    w->served = served;
    w->publisher = publisher;
    w->data_dir = data_dir;
    int err = writer_open_file(w, why);
    if (err == ERR_OK)
        *out = w;
    else
        writer_close(w);
    return err;
}

void writer_end(struct writer *w) {
    if (w->store != NULL)
        writer_rescue(w, true);
    store_close(w->store);
    w->store = NULL;
}

void writer_close(struct writer *w) {
    if (w == NULL)
        return;
    snapshot_swap(&w->served->slot, NULL);
    noticeboard_release(w->notices);
    keyring_release(w->keys);
    ruling_set_release(w->set);
    shared_model_release(w->shared);
    scorer_clear(&w->scorer);
    free(w->touched);
    free(w->is_touched);
    writer_end(w);
    free(w);
}

/* ---- what other processes changed ---- */

/* All of it in one moment of the file. */
static int load_changes(struct writer *w) {
    struct stored_revision last;
    bool begun = store_read_begin(w->store);
    int err = store_last_revision(w->store, &last);
    if (err == ERR_OK && (w->dirty || last.office != w->office_revision)) {
        err = writer_load_event(w);
        if (err == ERR_OK)
            err = writer_load_notices(w);
        if (err == ERR_OK)
            writer_report_damage(w);
    }
    if (err == ERR_OK)
        err = writer_load_keys(w);
    if (err == ERR_OK)
        err = store_note_ends(w->store);
    store_read_end(w->store, begun);
    return err;
}

/* Takes over what others committed. Returns ERR_OK also where that is nothing. */
static int take_over(struct writer *w) {
    int64_t version = 0;
    if (w->store == NULL || store_data_version(w->store, &version) != ERR_OK ||
        version == w->data_version)
        return ERR_OK;
    int err = load_changes(w);
    if (err == ERR_OK)
        err = writer_publish(w);
    writer_log_failure(w, err,
                       "what was changed in the file by another process cannot be taken over");
    if (err == ERR_OK)
        w->data_version = version;
    return err;
}

void writer_refresh(struct writer *w) {
    writer_recover(w);
    if (take_over(w) == ERR_OK && w->unpublished && !w->dirty)
        (void)writer_publish(w);
}

/* ---- writes ---- */

int writer_begin(struct writer *w) {
    int err = store_begin(w->store);
    if (err != ERR_OK)
        return err;
    err = writer_reload(w);
    if (err == ERR_OK)
        err = take_over(w);
    if (err == ERR_OK && w->dirty)
        err = writer_load_event(w);
    if (err != ERR_OK)
        store_rollback(w->store);
    return err;
}

/* Where the event is known not to be writable it need not come to a transaction; why is in the log
 * already. */
static bool can_be_tried(struct writer *w) {
    enum writability state = writer_state(w);
    return state == WRITABLE || state == UNWRITABLE_FAILING;
}

/* Cuts off the first of a list, with those behind it that share its transaction. Returns the
 * rest. */
static struct write *cut_batch(struct write *first) {
    struct write *last = first;
    while (first->operations->batched && last->next != NULL && last->next->operations->batched)
        last = last->next;
    struct write *rest = last->next;
    last->next = NULL;
    return rest;
}

void writer_work(struct writer *w, struct write *writes) {
    if (writes == NULL)
        return;
    if (!can_be_tried(w)) {
        for (struct write *write = writes; write != NULL; write = write->next)
            writer_fail(w, write, "");
        writer_answer(w, writes);
        return;
    }
    while (writes != NULL) {
        struct write *batch = writes;
        writes = cut_batch(batch);
        writer_commit(w, batch);
    }
}
