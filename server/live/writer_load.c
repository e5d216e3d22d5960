/* SPDX-License-Identifier: MIT */
/* Loading: the event, its notices and its keys, from the file into memory. */
#include <stdlib.h>

#include "base/err.h"
#include "live/writer_private.h"
#include "store/code_book.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "store/stored_enquiries.h"
#include "store/stored_keys.h"
#include "store/stored_notices.h"

int writer_load_keys(struct writer *w) {
    struct stored_key *keys = NULL;
    size_t count = 0;
    struct code_book codes;
    struct store_epoch epoch;
    int err = store_last_epoch(w->store, &epoch);
    if (err == ERR_OK) {
        w->standby = epoch.standby;
        atomic_store(&w->served->epoch, epoch.number);
        err = store_keys(w->store, &keys, &count);
    }
    if (err == ERR_OK && (err = store_code_book(w->store, &codes)) != ERR_OK)
        stored_keys_free(keys, count);
    struct keyring *ring = err == ERR_OK ? keyring_take(keys, count, &codes) : NULL;
    if (ring == NULL)
        return err == ERR_OK ? ERR_NOMEM : err;
    keyring_release(w->keys);
    w->keys = ring;
    return ERR_OK;
}

int writer_load_notices(struct writer *w) {
    struct stored_notice *list = NULL;
    size_t count = 0;
    struct stored_enquiry *enquiries = NULL;
    size_t enquiry_count = 0;
    int err = store_notices(w->store, &list, &count);
    if (err == ERR_OK && (err = store_enquiries(w->store, &enquiries, &enquiry_count)) != ERR_OK)
        stored_notices_free(list, count);
    struct noticeboard *board =
        err == ERR_OK ? noticeboard_take(list, count, enquiries, enquiry_count) : NULL;
    if (board == NULL)
        return err == ERR_OK ? ERR_NOMEM : err;
    noticeboard_release(w->notices);
    w->notices = board;
    return ERR_OK;
}

static int load_document(struct store *store, const char *name, struct sent_document *document) {
    int err = store_document(store, name, &document->text, &document->len);
    return err == ERR_UNKNOWN ? ERR_OK : err;
}

/* The documents in force are kept beside what was read from them. */
static int load_documents(struct store *store, struct documents *documents) {
    int err = load_document(store, "event.json", &documents->rules);
    if (err == ERR_OK)
        err = load_document(store, "entries.csv", &documents->entries);
    if (err == ERR_OK)
        err = load_document(store, "starts.csv", &documents->starts);
    return err;
}

/* What follows from a model, made beside what is in use. */
struct adoption {
    struct shared_model *shared;
    struct ruling_set *set;
    struct scorer scorer;
    int *touched;
    bool *is_touched;
};

static void adoption_clear(struct adoption *a) {
    scorer_clear(&a->scorer);
    free(a->touched);
    free(a->is_touched);
    ruling_set_release(a->set);
    shared_model_release(a->shared);
}

static int prepare(struct writer *w, struct model *model, struct adoption *a) {
    *a = (struct adoption){.shared = shared_model_take(model)};
    if (a->shared == NULL)
        return ERR_NOMEM;
    int err = load_documents(w->store, &a->shared->documents);
    if (err != ERR_OK)
        return err;
    a->set = ruling_set_new(a->shared);
    if (a->set == NULL)
        return ERR_NOMEM;
    size_t cars = (size_t)a->set->event.entries->count;
    a->touched = calloc(cars + 1, sizeof *a->touched);
    a->is_touched = calloc(cars + 1, sizeof *a->is_touched);
    if (a->touched == NULL || a->is_touched == NULL)
        return ERR_NOMEM;
    return scorer_init(&a->scorer, &a->set->event);
}

int writer_adopt(struct writer *w, struct model *model) {
    struct adoption a;
    int err = prepare(w, model, &a);
    if (err == ERR_OK) {
        struct adoption before = {w->shared, w->set, w->scorer, w->touched, w->is_touched};
        w->shared = a.shared;
        w->model = model;
        w->set = a.set;
        w->scorer = a.scorer;
        w->touched = a.touched;
        w->is_touched = a.is_touched;
        w->touched_count = 0;
        w->dirty = false;
        a = before;
    }
    adoption_clear(&a);
    return err;
}

int writer_load_event(struct writer *w) {
    struct model *model = NULL;
    struct stored_revision last;
    int err = store_load_event(w->store, &model);
    if (err == ERR_OK)
        err = writer_adopt(w, model);
    if (err == ERR_OK)
        err = store_last_revision(w->store, &last);
    if (err == ERR_OK) {
        w->office_revision = last.office;
        w->public_revision = last.public_number;
        w->office_ms = last.committed_ms;
        w->public_ms = last.public_ms;
    }
    return err;
}

/* All that the file holds, into memory and out to readers. */
static int load_and_publish(struct writer *w) {
    int err = store_data_version(w->store, &w->data_version);
    if (err == ERR_OK)
        err = store_note_ends(w->store);
    if (err == ERR_OK)
        err = writer_load_event(w);
    if (err == ERR_OK)
        err = writer_load_keys(w);
    if (err == ERR_OK)
        err = writer_load_notices(w);
    if (err == ERR_OK)
        err = writer_publish(w);
    return err;
}

int writer_load_all(struct writer *w) {
    int err = load_and_publish(w);
    if (err == ERR_OK)
        err = store_verify(w->store);
    if (err == ERR_OK)
        writer_report_damage(w);
    return err;
}

int writer_reload(struct writer *w) {
    if (!w->must_reload || w->store == NULL)
        return ERR_OK;
    int err = writer_load_all(w);
    if (err == ERR_OK)
        w->must_reload = false;
    return err;
}
