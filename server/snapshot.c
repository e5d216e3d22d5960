/* SPDX-License-Identifier: MIT */
#include "snapshot.h"

#include <sched.h>
#include <stdlib.h>

#include "cache.h"
#include "err.h"

/* The one piece of state that is not handed around: snapshots that some reader is just taking hold
 * of. Between loading the slot and counting itself in, a reader is protected by a mark here, its
 * own for that moment; the writer does not let an old snapshot go while a mark names it. A thread
 * begins its search where it found one the last time, so that it seldom meets another. */
static struct {
    atomic_uint threads;
    _Atomic(struct snapshot *) marks[SNAPSHOT_MARKS];
} taking;

static _Thread_local unsigned my_mark = SNAPSHOT_MARKS;

/* Takes a mark that nobody has, and names `found` in it. Where more readers than there are marks
 * are in the midst of it, the last wait for a moment rather than share one. */
static _Atomic(struct snapshot *) *take_mark(struct snapshot *found) {
    if (my_mark == SNAPSHOT_MARKS)
        my_mark = atomic_fetch_add(&taking.threads, 1) % SNAPSHOT_MARKS;
    for (unsigned tried = 1;; tried++) {
        struct snapshot *none = NULL;
        if (atomic_compare_exchange_strong(&taking.marks[my_mark], &none, found))
            return &taking.marks[my_mark];
        my_mark = (my_mark + 1) % SNAPSHOT_MARKS;
        if (tried % SNAPSHOT_MARKS == 0)
            (void)sched_yield();
    }
}

struct snapshot *snapshot_acquire(struct snapshot_slot *slot) {
    struct snapshot *found = atomic_load(&slot->current);
    if (found == NULL)
        return NULL;
    _Atomic(struct snapshot *) *mark = take_mark(found);
    for (struct snapshot *again; (again = atomic_load(&slot->current)) != found;) {
        found = again;
        if (found == NULL)
            break;
        atomic_store(mark, found);
    }
    if (found != NULL)
        atomic_fetch_add(&found->refs, 1);
    atomic_store(mark, NULL);
    return found;
}

static void scene_clear(struct scene *scene) {
    cache_free(scene->cache);
    if (!scene->borrowed)
        scores_free(scene->scores);
}

void snapshot_release(struct snapshot *s) {
    if (s == NULL || atomic_fetch_sub(&s->refs, 1) != 1)
        return;
    scene_clear(&s->office);
    scene_clear(&s->open_scene);
    noticeboard_release(s->notices);
    keyring_release(s->keys);
    ruling_set_release(s->set);
    free(s);
}

void snapshot_swap(struct snapshot_slot *slot, struct snapshot *next) {
    struct snapshot *old = atomic_exchange(&slot->current, next);
    if (old == NULL)
        return;
    for (int i = 0; i < SNAPSHOT_MARKS; i++) {
        while (atomic_load(&taking.marks[i]) == old)
            (void)sched_yield();
    }
    snapshot_release(old);
}

struct model *model_take(struct event *event) {
    struct model *model = calloc(1, sizeof *model);
    if (model == NULL) {
        event_free(event);
        return NULL;
    }
    atomic_init(&model->refs, 1);
    model->event = event;
    return model;
}

struct model *model_hold(struct model *model) {
    atomic_fetch_add(&model->refs, 1);
    return model;
}

void model_release(struct model *model) {
    if (model == NULL || atomic_fetch_sub(&model->refs, 1) != 1)
        return;
    event_free(model->event);
    free(model->rules.text);
    free(model->entries.text);
    free(model->starts.text);
    free(model);
}

static int log_decisions(struct ruling_set *set) {
    const struct decisions *decisions = set->model->event->decisions;
    int count = decisions_count(decisions);
    set->log = calloc((size_t)count + 1, sizeof *set->log);
    if (set->log == NULL)
        return ERR_NOMEM;
    set->log_count = count;
    for (int i = 0; i < count; i++) {
        const struct decision *decision = decisions_at(decisions, i);
        set->log[i] = (struct logged_decision){decision, decision->holds};
    }
    return ERR_OK;
}

struct ruling_set *ruling_set_new(struct model *model) {
    struct ruling_set *set = calloc(1, sizeof *set);
    if (set == NULL)
        return NULL;
    atomic_init(&set->refs, 1);
    set->model = model_hold(model);
    if (log_decisions(set) == ERR_OK && rulings_build(model->event, &set->rulings) == ERR_OK) {
        set->event = *model->event;
        set->event.rulings = set->rulings;
        struct view_request request = {.live = true, .after = -1};
        int err = view_new(&set->event, request, &set->office_view);
        request.public_view = true;
        if (err == ERR_OK && view_new(&set->event, request, &set->public_view) == ERR_OK) {
            for (int i = 0; i < model->event->rules->item_count; i++)
                set->hides = set->hides || set->public_view->hidden[i];
            return set;
        }
    }
    ruling_set_release(set);
    return NULL;
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
    free(set->log);
    model_release(set->model);
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
