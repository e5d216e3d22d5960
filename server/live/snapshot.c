/* SPDX-License-Identifier: MIT */
#include "live/snapshot.h"

#include <stdlib.h>

#include "base/err.h"
#include "live/cache.h"
#include "live/shared_model.h"
#include "system/hazard_pointers.h"

struct snapshot *snapshot_acquire(struct snapshot_slot *slot) {
    struct snapshot *found = atomic_load(&slot->current);
    if (found == NULL)
        return NULL;
    struct mark *mark = hazard_take(found);
    /* Only what is still in its place once the mark names it is protected by the mark. */
    for (struct snapshot *again; (again = atomic_load(&slot->current)) != found;) {
        found = again;
        if (found == NULL)
            break;
        hazard_name(mark, found);
    }
    if (found != NULL)
        atomic_fetch_add(&found->refs, 1);
    hazard_give(mark);
    return found;
}

static void results_clear(struct results *results) {
    cache_free(results->cache);
    if (!results->borrowed)
        scores_free(results->scores);
}

void snapshot_release(struct snapshot *s) {
    if (s == NULL || atomic_fetch_sub(&s->refs, 1) != 1)
        return;
    results_clear(&s->office_results);
    results_clear(&s->public_results);
    noticeboard_release(s->notices);
    keyring_release(s->keys);
    ruling_set_release(s->set);
    free(s);
}

void snapshot_swap(struct snapshot_slot *slot, struct snapshot *next) {
    struct snapshot *old = atomic_exchange(&slot->current, next);
    if (old == NULL)
        return;
    hazards_wait_for(old);
    snapshot_release(old);
}

struct shared_model *shared_model_take(struct model *model) {
    struct shared_model *shared = calloc(1, sizeof *shared);
    if (shared == NULL) {
        model_free(model);
        return NULL;
    }
    atomic_init(&shared->refs, 1);
    shared->model = model;
    return shared;
}

struct shared_model *shared_model_hold(struct shared_model *shared) {
    atomic_fetch_add(&shared->refs, 1);
    return shared;
}

void shared_model_release(struct shared_model *shared) {
    if (shared == NULL || atomic_fetch_sub(&shared->refs, 1) != 1)
        return;
    model_free(shared->model);
    free(shared->documents.rules.text);
    free(shared->documents.entries.text);
    free(shared->documents.starts.text);
    free(shared);
}

/* What the model holds by now, with a list of decisions and rulings of the set's own. */
static int make_event(struct ruling_set *set) {
    const struct model *model = set->model->model;
    set->event = (struct event){.rules = model->rules,
                                .entries = model->entries,
                                .readings = readings_view(model->readings)};
    int err = decisions_list(model->decisions, &set->event.decisions);
    if (err == ERR_OK)
        err = rulings_build(&set->event, &set->rulings);
    set->event.rulings = set->rulings;
    return err;
}

struct ruling_set *ruling_set_new(struct shared_model *model) {
    struct ruling_set *set = calloc(1, sizeof *set);
    if (set == NULL)
        return NULL;
    atomic_init(&set->refs, 1);
    set->model = shared_model_hold(model);
    set->documents = &model->documents;
    struct view_request request = {.live = true, .after = -1};
    int err = make_event(set);
    if (err == ERR_OK)
        err = view_new(&set->event, request, &set->office_view);
    request.public_view = true;
    if (err == ERR_OK)
        err = view_new(&set->event, request, &set->public_view);
    if (err != ERR_OK) {
        ruling_set_release(set);
        return NULL;
    }
    for (int i = 0; i < set->event.rules->item_count; i++)
        set->hides = set->hides || set->public_view->hidden[i];
    return set;
}

struct ruling_set *ruling_set_hold(struct ruling_set *set) {
    atomic_fetch_add(&set->refs, 1);
    return set;
}

void ruling_set_release(struct ruling_set *set) {
    if (set == NULL || atomic_fetch_sub(&set->refs, 1) != 1)
        return;
    view_free(set->office_view);
    view_free(set->public_view);
    rulings_free(set->rulings);
    decision_list_clear(&set->event.decisions);
    shared_model_release(set->model);
    free(set);
}

struct keyring *keyring_take(struct stored_key *keys, size_t count, struct code_book *codes) {
    struct keyring *keyring = malloc(sizeof *keyring);
    if (keyring == NULL) {
        stored_keys_free(keys, count);
        code_book_clear(codes);
        return NULL;
    }
    atomic_init(&keyring->refs, 1);
    keyring->keys = keys;
    keyring->count = count;
    keyring->codes = *codes;
    return keyring;
}

struct keyring *keyring_hold(struct keyring *keyring) {
    atomic_fetch_add(&keyring->refs, 1);
    return keyring;
}

void keyring_release(struct keyring *keyring) {
    if (keyring == NULL || atomic_fetch_sub(&keyring->refs, 1) != 1)
        return;
    stored_keys_free(keyring->keys, keyring->count);
    code_book_clear(&keyring->codes);
    free(keyring);
}

struct noticeboard *noticeboard_take(struct stored_notice *list, size_t count,
                                     struct stored_enquiry *enquiries, size_t enquiry_count) {
    struct noticeboard *board = malloc(sizeof *board);
    if (board == NULL) {
        stored_notices_free(list, count);
        stored_enquiries_free(enquiries, enquiry_count);
        return NULL;
    }
    atomic_init(&board->refs, 1);
    board->list = list;
    board->count = count;
    board->enquiries = enquiries;
    board->enquiry_count = enquiry_count;
    return board;
}

struct noticeboard *noticeboard_hold(struct noticeboard *board) {
    atomic_fetch_add(&board->refs, 1);
    return board;
}

void noticeboard_release(struct noticeboard *board) {
    if (board == NULL || atomic_fetch_sub(&board->refs, 1) != 1)
        return;
    stored_notices_free(board->list, board->count);
    stored_enquiries_free(board->enquiries, board->enquiry_count);
    free(board);
}
