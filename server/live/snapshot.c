/* SPDX-License-Identifier: MIT */
#include "live/snapshot.h"

#include <stdlib.h>

#include "base/err.h"
#include "live/cache.h"
#include "live/shared_model.h"
#include "store/code_book.h"
#include "store/stored_enquiries.h"
#include "store/stored_keys.h"
#include "store/stored_notices.h"
#include "system/hazard_pointers.h"

/* Parts that several hold are counted; each begins with one hold, that of whoever made it. */
static void count_hold(atomic_int *refs) {
    atomic_fetch_add(refs, 1);
}

/* True where that was the last hold, and the part is to be freed. */
static bool count_release(atomic_int *refs) {
    return atomic_fetch_sub(refs, 1) == 1;
}

/* A counted part with one hold on it, zeroed but for that; NULL when memory is out. The count
 * stands first. */
static void *count_new(size_t size) {
    atomic_int *refs = calloc(1, size);
    if (refs != NULL)
        atomic_init(refs, 1);
    return refs;
}

struct snapshot *snapshot_new(void) {
    return count_new(sizeof(struct snapshot));
}

struct snapshot *snapshot_hold(struct snapshot *s) {
    count_hold(&s->refs);
    return s;
}

struct snapshot *snapshot_acquire(struct snapshot_slot *slot) {
    struct snapshot *found = atomic_load(&slot->current);
    if (found == NULL)
        return NULL;
    struct hazard *hazard = hazard_take(found);
    /* A snapshot that is still in its slot after the hazard names it is protected by the hazard. */
    for (struct snapshot *again; (again = atomic_load(&slot->current)) != found;) {
        found = again;
        if (found == NULL)
            break;
        hazard_name(hazard, found);
    }
    if (found != NULL)
        count_hold(&found->refs);
    hazard_give(hazard);
    return found;
}

static void results_clear(struct results *results) {
    cache_free(results->cache);
    if (!results->borrowed)
        scores_free(results->scores);
}

void snapshot_release(struct snapshot *s) {
    if (s == NULL || !count_release(&s->refs))
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
    struct shared_model *shared = count_new(sizeof *shared);
    if (shared == NULL) {
        model_free(model);
        return NULL;
    }
    shared->model = model;
    return shared;
}

void shared_model_release(struct shared_model *shared) {
    if (shared == NULL || !count_release(&shared->refs))
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
    struct ruling_set *set = count_new(sizeof *set);
    if (set == NULL)
        return NULL;
    count_hold(&model->refs);
    set->model = model;
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
    count_hold(&set->refs);
    return set;
}

void ruling_set_release(struct ruling_set *set) {
    if (set == NULL || !count_release(&set->refs))
        return;
    view_free(set->office_view);
    view_free(set->public_view);
    rulings_free(set->rulings);
    decision_list_clear(&set->event.decisions);
    shared_model_release(set->model);
    free(set);
}

struct keyring *keyring_take(struct stored_key *keys, size_t count, struct code_book *codes) {
    struct keyring *keyring = count_new(sizeof *keyring);
    if (keyring == NULL) {
        stored_keys_free(keys, count);
        code_book_clear(codes);
        return NULL;
    }
    keyring->keys = keys;
    keyring->count = count;
    keyring->codes = *codes;
    return keyring;
}

struct keyring *keyring_hold(struct keyring *keyring) {
    count_hold(&keyring->refs);
    return keyring;
}

void keyring_release(struct keyring *keyring) {
    if (keyring == NULL || !count_release(&keyring->refs))
        return;
    stored_keys_free(keyring->keys, keyring->count);
    code_book_clear(&keyring->codes);
    free(keyring);
}

struct noticeboard *noticeboard_take(struct stored_notice *list, size_t count,
                                     struct stored_enquiry *enquiries, size_t enquiry_count) {
    struct noticeboard *board = count_new(sizeof *board);
    if (board == NULL) {
        stored_notices_free(list, count);
        stored_enquiries_free(enquiries, enquiry_count);
        return NULL;
    }
    board->list = list;
    board->count = count;
    board->enquiries = enquiries;
    board->enquiry_count = enquiry_count;
    return board;
}

struct noticeboard *noticeboard_hold(struct noticeboard *board) {
    count_hold(&board->refs);
    return board;
}

void noticeboard_release(struct noticeboard *board) {
    if (board == NULL || !count_release(&board->refs))
        return;
    stored_notices_free(board->list, board->count);
    stored_enquiries_free(board->enquiries, board->enquiry_count);
    free(board);
}
