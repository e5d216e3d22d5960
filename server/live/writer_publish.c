/* SPDX-License-Identifier: MIT */
/* Publishing: a snapshot of what memory holds, made and swapped in. */

#include "base/err.h"
#include "live/cache.h"
#include "live/writer_private.h"
#include "system/system_clock.h"

/* Scores for results: brought up to date from the one before where only readings came. */
static int make_results(struct writer *w, struct results *results, const struct event *event,
                        const struct view *view, const struct results *before) {
    int err;
    results->view = view;
    results->cache = cache_new();
    if (results->cache == NULL)
        return ERR_NOMEM;
    if (before == NULL)
        return scores_new(event, view, &results->scores);
    err = scores_copy(before->scores, event, view, &results->scores);
    if (err == ERR_OK && w->touched_count > 0) {
        scores_update(results->scores, &w->scorer, w->touched, w->touched_count);
        scores_rank(results->scores, &w->scorer);
    }
    return err;
}

/* The views tell whether the final classification is posted; those that others hold are never
 * changed. */
static int settle_finality(struct writer *w) {
    bool final = writer_is_final(w);
    if (w->set->office_view->is_final == final)
        return ERR_OK;
    struct ruling_set *set = ruling_set_new(w->shared);
    if (set == NULL)
        return ERR_NOMEM;
    set->office_view->is_final = set->public_view->is_final = final;
    ruling_set_release(w->set);
    w->set = set;
    return ERR_OK;
}

/* Where nothing is hidden the public sees what the office sees, and one scoring does for both. */
static int borrow_results(struct results *results, const struct view *view,
                          const struct results *office) {
    results->view = view;
    results->scores = office->scores;
    results->borrowed = true;
    results->cache = cache_new();
    return results->cache == NULL ? ERR_NOMEM : ERR_OK;
}

/* The parts that are counted, and the readings that there are by now. */
static struct snapshot *hold_parts(struct writer *w) {
    struct snapshot *now = snapshot_new();
    if (now == NULL)
        return NULL;
    now->set = ruling_set_hold(w->set);
    now->keys = keyring_hold(w->keys);
    now->notices = noticeboard_hold(w->notices);
    now->event = w->set->event;
    now->event.readings = readings_view(w->model->readings);
    now->office_results.revision = w->office_revision;
    now->office_results.changed_ms = w->office_ms;
    now->public_results.revision = w->public_revision;
    now->public_results.changed_ms = w->public_ms;
    return now;
}

/* Both results of a snapshot.
 *   before  the snapshot that it follows; NULL for none */
static int score(struct writer *w, struct snapshot *now, const struct snapshot *before) {
    bool same_rulings = before != NULL && before->set == w->set;
    int err = make_results(w, &now->office_results, &now->event, w->set->office_view,
                           same_rulings ? &before->office_results : NULL);
    if (err != ERR_OK)
        return err;
    if (!w->set->hides)
        return borrow_results(&now->public_results, w->set->public_view, &now->office_results);
    return make_results(w, &now->public_results, &now->event, w->set->public_view,
                        same_rulings ? &before->public_results : NULL);
}

static int publish(struct writer *w) {
    if (settle_finality(w) != ERR_OK)
        return ERR_NOMEM;
    struct snapshot *before = atomic_load(&w->served->slot.current);
    int64_t from = monotonic_microseconds();
    struct snapshot *now = hold_parts(w);
    int err = now == NULL ? ERR_NOMEM : score(w, now, before);
    if (err != ERR_OK) {
        snapshot_release(now);
        return err;
    }
    /* The old one is held until the listeners have been sent what changed. */
    if (before != NULL)
        (void)snapshot_hold(before);
    snapshot_swap(&w->served->slot, now);
    histogram_add(&w->publisher->figures->publish, monotonic_microseconds() - from);
    if (w->publisher->published != NULL)
        w->publisher->published(w->publisher->context, w->served, before, now);
    snapshot_release(before);
    return ERR_OK;
}

static void forget_touched(struct writer *w) {
    for (int i = 0; i < w->touched_count; i++)
        w->is_touched[w->touched[i]] = false;
    w->touched_count = 0;
}

int writer_publish(struct writer *w) {
    int err = publish(w);
    w->unpublished = err != ERR_OK;
    if (err == ERR_OK)
        forget_touched(w);
    writer_log_failure(w, err, "the results of this revision cannot be shown");
    return err;
}

void writer_touch(struct writer *w, int car) {
    if (car >= 0 && !w->is_touched[car]) {
        w->is_touched[car] = true;
        w->touched[w->touched_count++] = car;
    }
}
