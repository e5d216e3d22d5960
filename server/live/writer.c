/* SPDX-License-Identifier: MIT */
#include "live/writer.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "live/cache.h"
#include "live/etag.h"
#include "live/writer_private.h"
#include "store/keys.h"
#include "system/hard_limits.h"
#include "system/log.h"
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

/* The views tell whether the final classification is posted; those that others look at are never
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

/* The writer looks many times a second: of what goes on failing it tells once. */
static void tell(struct writer *w, int err, const char *what) {
    const char *message = w->store == NULL ? "" : store_message(w->store);
    if (err != ERR_OK && !w->told)
        log_error(w->served->slug, "%s: %s", what, *message != '\0' ? message : err_text(err));
    w->told = err != ERR_OK;
}

static int publish(struct writer *w) {
    if (settle_finality(w) != ERR_OK)
        return ERR_NOMEM;
    struct snapshot *before = atomic_load(&w->served->slot.current);
    struct snapshot *now = calloc(1, sizeof *now);
    int64_t from = monotonic_microseconds();
    if (now == NULL)
        return ERR_NOMEM;
    atomic_init(&now->refs, 1);
    now->set = ruling_set_hold(w->set);
    now->keys = keyring_hold(w->keys);
    now->notices = noticeboard_hold(w->notices);
    now->event = w->set->event;
    now->event.readings = readings_view(w->model->readings);
    now->office_results.revision = w->office_revision;
    now->office_results.changed_ms = w->office_ms;
    now->public_results.revision = w->public_revision;
    now->public_results.changed_ms = w->public_ms;
    bool same_rulings = before != NULL && before->set == w->set;
    int err = make_results(w, &now->office_results, &now->event, w->set->office_view,
                           same_rulings ? &before->office_results : NULL);
    if (err == ERR_OK && !w->set->hides)
        err = borrow_results(&now->public_results, w->set->public_view, &now->office_results);
    else if (err == ERR_OK)
        err = make_results(w, &now->public_results, &now->event, w->set->public_view,
                           same_rulings ? &before->public_results : NULL);
    if (err != ERR_OK) {
        snapshot_release(now);
        return err;
    }
    /* The old one is held until the listeners have been told what changed. */
    if (before != NULL)
        atomic_fetch_add(&before->refs, 1);
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

/* What is not shown for want of memory is scored with the next revision that is. */
int writer_publish(struct writer *w) {
    int err = publish(w);
    w->unshown = err != ERR_OK;
    if (err == ERR_OK)
        forget_touched(w);
    tell(w, err, "the results of this revision cannot be shown");
    return err;
}

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

static int keep_paper(struct store *store, const char *name, struct sent_document *paper) {
    int err = store_document(store, name, &paper->text, &paper->len);
    return err == ERR_UNKNOWN ? ERR_OK : err;
}

/* The documents in force are kept beside what was read from them. */
static int keep_papers(struct store *store, struct documents *documents) {
    int err = keep_paper(store, "event.json", &documents->rules);
    if (err == ERR_OK)
        err = keep_paper(store, "entries.csv", &documents->entries);
    if (err == ERR_OK)
        err = keep_paper(store, "starts.csv", &documents->starts);
    return err;
}

int writer_adopt(struct writer *w, struct model *model) {
    struct shared_model *shared = shared_model_take(model);
    bool kept = shared != NULL && keep_papers(w->store, &shared->documents) == ERR_OK;
    struct ruling_set *set = kept ? ruling_set_new(shared) : NULL;
    struct scorer scorer = {0};
    size_t cars = set == NULL ? 0 : (size_t)set->event.entries->count;
    int *touched = set == NULL ? NULL : calloc(cars + 1, sizeof *touched);
    bool *is_touched = set == NULL ? NULL : calloc(cars + 1, sizeof *is_touched);
    if (touched == NULL || is_touched == NULL || scorer_init(&scorer, &set->event) != ERR_OK) {
        scorer_clear(&scorer);
        free(touched);
        free(is_touched);
        ruling_set_release(set);
        shared_model_release(shared);
        return ERR_NOMEM;
    }
    shared_model_release(w->shared);
    ruling_set_release(w->set);
    scorer_clear(&w->scorer);
    free(w->touched);
    free(w->is_touched);
    w->shared = shared;
    w->model = model;
    w->set = set;
    w->scorer = scorer;
    w->touched = touched;
    w->is_touched = is_touched;
    w->touched_count = 0;
    w->dirty = false;
    return ERR_OK;
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

void writer_end(struct writer *w) {
    if (w->store != NULL)
        writer_save_open(w, true);
    store_close(w->store);
    w->store = NULL;
}

void writer_close(struct writer *w) {
    if (w == NULL)
        return;
    if (w->served != NULL)
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

static void touch(struct writer *w, int car) {
    if (!w->is_touched[car]) {
        w->is_touched[car] = true;
        w->touched[w->touched_count++] = car;
    }
}

/* Takes over what others committed. Returns ERR_OK also where that is nothing. */
static int look(struct writer *w) {
    int64_t version = 0;
    struct stored_revision last;
    if (w->store == NULL) /* between two tries to open it */
        return ERR_OK;
    if (store_data_version(w->store, &version) != ERR_OK || version == w->data_version)
        return ERR_OK;
    bool begun = store_read_begin(w->store);
    int err = store_last_revision(w->store, &last);
    if (err == ERR_OK && (w->dirty || last.office != w->office_revision)) {
        err = writer_load_event(w);
        if (err == ERR_OK)
            err = writer_load_notices(w);
        if (err == ERR_OK)
            writer_tell_damage(w);
    }
    if (err == ERR_OK)
        err = writer_load_keys(w);
    if (err == ERR_OK)
        err = store_remember(w->store);
    store_read_end(w->store, begun);
    if (err == ERR_OK)
        err = writer_publish(w);
    tell(w, err, "what was changed in the file by another process cannot be taken over");
    if (err == ERR_OK)
        w->data_version = version;
    return err;
}

void writer_look(struct writer *w) {
    writer_tend(w);
    if (look(w) == ERR_OK && w->unshown && !w->dirty)
        (void)writer_publish(w);
}

int writer_begin(struct writer *w) {
    int err = store_begin(w->store);
    if (err != ERR_OK)
        return err;
    err = writer_settle(w);
    if (err == ERR_OK)
        err = look(w);
    if (err == ERR_OK && w->dirty)
        err = writer_load_event(w);
    if (err != ERR_OK)
        store_rollback(w->store);
    return err;
}

/* One batch of facts on its way to the disk. */
struct batch {
    struct writer *w;
    int64_t now;
    bool anything;      /* a fact was added */
    bool public_change; /* the public can see something of it */
    bool new_decisions;
};

/* Notes a row that is not taken. Returns ERR_OK, or ERR_NOMEM, and then nothing of the batch may be
 * kept: the answer could not tell of this row. */
static int refuse(struct write *write, size_t row, enum row_refusal class, const char *id,
                  const char *reason) {
    struct refused_row *list = write->refused;
    size_t count = write->refused_count;
    /* Twice the room whenever a power of two is full: a body may hold 50,000 rows. */
    if ((count & (count - 1)) == 0)
        list = realloc(list, (count == 0 ? 1 : 2 * count) * sizeof *list);
    if (list == NULL)
        return ERR_NOMEM;
    write->refused = list;
    list[count] = (struct refused_row){row, class, strdup(id), strdup(reason)};
    write->refused_count++;
    return list[count].id == NULL || list[count].reason == NULL ? ERR_NOMEM : ERR_OK;
}

/* The same of a reading, which the office is to see: one by one the first of an upload only, since
 * each is a row in the file, and thousands would hold up the event's other writes. */
static int refuse_reading(struct batch *batch, struct write *write, const struct stored_key *key,
                          const struct reading_text *text, size_t row, int64_t upload,
                          enum row_refusal class, const char *reason) {
    int err = refuse(write, row, class, text->field[READING_ID], reason);
    return err == ERR_OK && write->refused_count <= LIMIT_REFUSALS_KEPT
               ? writer_keep_refusal(batch->w, key, text, row, reason, upload)
               : err;
}

/* What is wrong with a row that can be read: told apart so that it can be counted. */
static enum row_refusal class_of_row(const struct model *model, bool id_known, const char *point,
                                     const char *car) {
    int64_t number = 0;
    if (id_known)
        return ROW_ID_TAKEN;
    if (*point != '\0' && strmap_get(&model->rules->point_by_id, point) < 0)
        return ROW_UNKNOWN_POINT;
    if (*car != '\0' && (decimal_parse_whole(car, 1, NUMBER_MAX, &number) != ERR_OK ||
                         entries_find(model->entries, number) < 0))
        return ROW_UNKNOWN_CAR;
    return ROW_VALUE;
}

/* What a timekeeper may not do. NULL where all is well. The words are the same whether the point
 * is another's or does not exist. */
static const char *beyond_key(const struct writer *w, const struct stored_key *key,
                              const struct reading_text *text) {
    const struct model *model = w->model;
    if (key->organiser)
        return NULL;
    int point = strmap_get(&model->rules->point_by_id, text->field[READING_POINT]);
    if (point < 0 || !key_covers(key->points, model->rules, point))
        return "the point is not one of this key's";
    const char *replaces = text->field[READING_REPLACES];
    int other = *replaces == '\0' ? -1 : readings_find(model->readings, replaces);
    if (other >= 0 &&
        !key_covers(key->points, model->rules, readings_at(model->readings, other)->point))
        return "the reading that it replaces is not at one of this key's points";
    return NULL;
}

static int take_reading(struct batch *batch, struct write *write, const struct stored_key *key,
                        size_t row, int64_t upload, struct textbuf *reason) {
    struct writer *w = batch->w;
    const struct model *model = w->model;
    const struct upload_row *from = &write->upload.rows[row];
    struct reading_text text = {.extras = from->extras};
    int index = -1;
    memcpy(text.field, from->fields, sizeof text.field);
    const char *wrong = from->wrong != NULL ? from->wrong : beyond_key(w, key, &text);
    if (wrong != NULL)
        return refuse_reading(batch, write, key, &text, row + 1, upload,
                              from->wrong != NULL ? ROW_UNREADABLE : ROW_NOT_THIS_KEYS, wrong);
    textbuf_reset(reason);
    switch (readings_add(model->readings, &text, reason, &index)) {
    case READING_NOMEM:
        return ERR_NOMEM;
    case READING_REFUSED:
        return refuse_reading(
            batch, write, key, &text, row + 1, upload,
            class_of_row(model, readings_find(model->readings, text.field[READING_ID]) >= 0,
                         text.field[READING_POINT], text.field[READING_CAR]),
            textbuf_text(reason));
    case READING_DUPLICATE:
        write->duplicates++;
        return ERR_OK;
    case READING_ADDED:
        break;
    }
    const struct reading *reading = readings_at(model->readings, index);
    const char *replaces = reading->text.field[READING_REPLACES];
    int other = *replaces == '\0' ? -1 : readings_find(model->readings, replaces);
    batch->anything = true;
    write->accepted++;
    touch(w, reading->car);
    if (view_shows_reading(w->set->public_view, model, reading))
        batch->public_change = true;
    if (other >= 0)
        touch(w, readings_at(model->readings, other)->car);
    return store_add_reading(w->store, reading, upload);
}

static int take_decision(struct batch *batch, struct write *write, size_t row, int64_t upload,
                         struct textbuf *reason) {
    struct writer *w = batch->w;
    struct decisions *decisions = w->model->decisions;
    const struct upload_row *from = &write->upload.rows[row];
    struct decision_text text = {.extras = from->extras};
    int index = -1;
    memcpy(text.field, from->fields, sizeof text.field);
    const char *id = text.field[DECISION_ID];
    if (from->wrong != NULL)
        return refuse(write, row + 1, ROW_UNREADABLE, id, from->wrong);
    textbuf_reset(reason);
    /* Over HTTP a revoke names what is there, or comes with it; so no circle can come about. */
    if (strcmp(text.field[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
        decisions_find(decisions, text.field[DECISION_VALUE]) < 0) {
        textbuf_printf(reason, "value “%s” is the id of no decision", text.field[DECISION_VALUE]);
        return refuse(write, row + 1, ROW_VALUE, id, textbuf_text(reason));
    }
    switch (decisions_add(decisions, &text, reason, &index)) {
    case DECISION_NOMEM:
        return ERR_NOMEM;
    case DECISION_REFUSED:
        return refuse(write, row + 1,
                      class_of_row(w->model, decisions_find(decisions, id) >= 0, "",
                                   text.field[DECISION_CAR]),
                      id, textbuf_text(reason));
    case DECISION_DUPLICATE:
        write->duplicates++;
        return ERR_OK;
    case DECISION_ADDED:
        break;
    }
    const struct decision *decision = decisions_at(decisions, index);
    batch->anything = true;
    batch->new_decisions = true;
    write->accepted++;
    if (view_shows_decision(w->set->public_view, w->model, decision))
        batch->public_change = true;
    return store_add_decision(w->store, decision, upload);
}

/* True for a row that revokes what is not there, or not yet. */
static bool revokes_nothing(const struct writer *w, const struct upload_row *row) {
    return row->wrong == NULL &&
           strcmp(row->fields[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
           decisions_find(w->model->decisions, row->fields[DECISION_VALUE]) < 0;
}

static int by_row(const void *a, const void *b) {
    const struct refused_row *x = a;
    const struct refused_row *y = b;
    return (x->row > y->row) - (x->row < y->row);
}

/* Takes decisions. The order of rows has no meaning: a revoke waits for what it names, which may
 * stand behind it in the body. */
static int take_decisions(struct batch *batch, struct write *write, int64_t upload,
                          struct textbuf *reason) {
    /* There and back by turns, so that a chain of revokes needs two rounds whichever way it is
     * written; one that is shuffled deeper than this people would never write. */
    enum { ROUNDS = 16 };
    bool *taken = calloc(write->upload.count + 1, sizeof *taken);
    size_t left = write->upload.count;
    int err = taken == NULL ? ERR_NOMEM : ERR_OK;
    for (int round = 1; err == ERR_OK && left > 0; round++) {
        size_t before = left;
        for (size_t i = 0; err == ERR_OK && i < write->upload.count; i++) {
            size_t row = round % 2 == 1 ? i : write->upload.count - 1 - i;
            if (taken[row] ||
                (round < ROUNDS && revokes_nothing(batch->w, &write->upload.rows[row])))
                continue;
            taken[row] = true;
            left--;
            err = take_decision(batch, write, row, upload, reason);
        }
        if (left == before)
            round = ROUNDS - 1; /* what is left names nothing: the next round refuses it */
    }
    free(taken);
    if (write->refused_count > 1)
        qsort(write->refused, write->refused_count, sizeof *write->refused, by_row);
    return err;
}

const struct stored_key *writer_key_of(const struct writer *w, const struct write *write) {
    for (size_t i = 0; i < w->keys->count; i++) {
        const struct stored_key *key = &w->keys->keys[i];
        if (!key->revoked && memcmp(key->hash, write->key_hash, sizeof key->hash) == 0)
            return key;
    }
    return NULL;
}

const char *writer_upload_kind(enum write_kind kind) {
    static const char *const names[] = {
        [WRITE_READINGS] = "readings",   [WRITE_DECISIONS] = "decisions",
        [WRITE_ENTRIES] = "entries.csv", [WRITE_RULES] = "event.json",
        [WRITE_STARTS] = "starts.csv",   [WRITE_NOTICE] = "notice"};
    return names[kind];
}

static int take_job(struct batch *batch, struct write *write) {
    struct writer *w = batch->w;
    const struct stored_key *key = writer_key_of(w, write);
    struct textbuf reason = {0};
    int64_t upload = 0;
    if (key == NULL) {
        write->result = WRITE_UNAUTHORISED;
        return ERR_OK;
    }
    /* Who may read doubts may name them. */
    if (*write->if_match != '\0' && key->organiser && !writer_matches(w, write)) {
        write->result = WRITE_STALE;
        return ERR_OK;
    }
    write->by_timekeeper = !key->organiser;
    int err =
        store_add_upload(w->store, batch->now, "http", key->id, writer_upload_kind(write->kind),
                         write->media_type, write->body, write->len, &upload);
    if (err == ERR_OK && write->kind == WRITE_DECISIONS)
        err = take_decisions(batch, write, upload, &reason);
    for (size_t row = 0;
         err == ERR_OK && write->kind == WRITE_READINGS && row < write->upload.count; row++)
        err = take_reading(batch, write, key, row, upload, &reason);
    if (err == ERR_OK && write->kind == WRITE_READINGS &&
        write->refused_count > LIMIT_REFUSALS_KEPT)
        err = writer_keep_more_refusals(w, key, write->refused_count - LIMIT_REFUSALS_KEPT, upload);
    if (reason.failed)
        err = ERR_NOMEM;
    textbuf_clear(&reason);
    return err;
}

/* Rulings that follow from new decisions; what they reveal shows to the public. */
static int settle(struct batch *batch) {
    struct writer *w = batch->w;
    struct model *model = w->model;
    int err = decisions_settle(model->decisions, "decisions", NULL);
    struct ruling_set *set = err == ERR_NOMEM ? NULL : ruling_set_new(w->shared);
    if (set == NULL)
        return ERR_NOMEM;
    for (int i = 0; i < model->rules->item_count; i++) {
        if (set->public_view->hidden[i] != w->set->public_view->hidden[i])
            batch->public_change = true;
    }
    ruling_set_release(w->set);
    w->set = set;
    return ERR_OK;
}

static int commit(struct batch *batch) {
    struct writer *w = batch->w;
    int64_t from = monotonic_microseconds();
    int err = ERR_OK;
    if (batch->new_decisions)
        err = settle(batch);
    if (err == ERR_OK && batch->anything)
        err = store_add_revision(w->store, w->office_revision + 1,
                                 w->public_revision + (batch->public_change ? 1 : 0), batch->now);
    if (err == ERR_OK)
        err = store_commit(w->store);
    else
        store_rollback(w->store);
    if (err != ERR_OK)
        return err;
    histogram_add(&w->publisher->figures->commit, monotonic_microseconds() - from);
    if (!batch->anything)
        return ERR_OK;
    w->office_revision++;
    w->office_ms = batch->now;
    if (batch->public_change) {
        w->public_revision++;
        w->public_ms = batch->now;
    }
    return ERR_OK;
}

void writer_fail(struct writer *w, struct write *write, const char *why) {
    write->result = WRITE_FAILED;
    write->accepted = write->duplicates = 0;
    textbuf_reset(&write->why);
    textbuf_puts(&write->why, why);
    atomic_fetch_add(&w->publisher->figures->failures, 1);
}

static enum upload_sort sort_of(const struct write *write) {
    return write->kind == WRITE_READINGS    ? UPLOAD_READINGS
           : write->kind == WRITE_DECISIONS ? UPLOAD_DECISIONS
                                            : UPLOAD_OTHER;
}

static void answer(struct writer *w, struct write *write) {
    struct write_queue_figures *figures = w->publisher->figures;
    /* What the next GET with this key shows. */
    write->revision = write->by_timekeeper ? w->public_revision : w->office_revision;
    atomic_fetch_add(&figures->accepted, write->accepted);
    atomic_fetch_add(&figures->duplicates, write->duplicates);
    for (size_t i = 0; i < write->refused_count; i++)
        atomic_fetch_add(&figures->refused.counts[write->refused[i].class], 1);
    if (write->result == WRITE_DONE)
        atomic_fetch_add(&figures->uploads[sort_of(write)], 1);
    atomic_fetch_sub(&figures->waiting, 1);
    atomic_fetch_sub(&w->served->waiting, 1);
    write->done(write);
}

void writer_answer_all(struct writer *w, struct write *writes) {
    while (writes != NULL) {
        struct write *next = writes->next;
        answer(w, writes); /* the write may be gone after this */
        writes = next;
    }
}

/* Facts of all writes in one transaction. */
static void work_facts(struct writer *w, struct write *writes) {
    struct batch batch = {.w = w, .now = now_ms()};
    int err = writer_begin(w);
    bool begun = err == ERR_OK;
    for (struct write *write = writes; err == ERR_OK && write != NULL; write = write->next)
        err = take_job(&batch, write);
    if (err == ERR_OK)
        err = commit(&batch);
    else if (begun)
        store_rollback(w->store);
    if (err != ERR_OK) {
        /* Memory now holds facts that the disk does not: nobody may see them. */
        w->dirty = w->dirty || batch.anything;
        const char *why =
            *store_message(w->store) != '\0' ? store_message(w->store) : err_text(err);
        for (struct write *write = writes; write != NULL; write = write->next)
            writer_fail(w, write, why);
        if (w->dirty)
            (void)writer_load_event(w);
    } else if (batch.anything) {
        (void)writer_publish(w);
    }
    writer_answer_all(w, writes);
}

/* A key made or revoked. It changes no result, so there is no new revision; the snapshot is made
 * again for its ring of keys. */
static void work_key(struct writer *w, struct write *write) {
    unsigned char hash[32];
    int err = writer_begin(w);
    bool begun = err == ERR_OK;
    const struct stored_key *key = writer_key_of(w, write);
    if (err == ERR_OK && (key == NULL || !key->organiser))
        err = ERR_UNKNOWN;
    if (err == ERR_OK && write->kind == WRITE_KEY) {
        key_hash(write->new_key.text, hash);
        err = store_add_key(w->store, hash, write->new_key.organiser, write->new_key.points,
                            write->new_key.label, now_ms(), &write->number);
    } else if (err == ERR_OK && store_revoke_key(w->store, write->number, now_ms()) != ERR_OK) {
        err = ERR_IO;
    }
    if (err == ERR_OK)
        err = store_commit(w->store);
    else if (begun)
        store_rollback(w->store);
    if (err == ERR_OK)
        err = writer_load_keys(w);
    if (err == ERR_OK)
        (void)writer_publish(w);
    else if (err == ERR_UNKNOWN)
        write->result = WRITE_UNAUTHORISED;
    else
        writer_fail(w, write,
                    *store_message(w->store) != '\0' ? store_message(w->store) : err_text(err));
    write->next = NULL;
    writer_answer_all(w, write);
}

static bool is_notice(const struct write *write) {
    return write->kind == WRITE_NOTICE || write->kind == WRITE_ENQUIRY ||
           write->kind == WRITE_ANSWER || write->kind == WRITE_CREW_ENQUIRY ||
           write->kind == WRITE_RENEW_CODE || write->kind == WRITE_ACKNOWLEDGE;
}

static bool is_document(const struct write *write) {
    return write->kind == WRITE_ENTRIES || write->kind == WRITE_RULES ||
           write->kind == WRITE_STARTS;
}

/* What cannot share a transaction with others. */
static bool goes_alone(const struct write *write) {
    return write->kind != WRITE_READINGS && write->kind != WRITE_DECISIONS;
}

/* Each kind of work begins with a look at what others committed, under the write lock. Where the
 * event is known not to be writable it need not come to that; the log has been told. */
void writer_work(struct writer *w, struct write *writes) {
    enum write_state state = writes == NULL ? WRITES_GOOD : writer_state(w);
    if (state != WRITES_GOOD && state != WRITES_FAILING) {
        for (struct write *write = writes; write != NULL; write = write->next)
            writer_fail(w, write, "");
        writer_answer_all(w, writes);
        return;
    }
    while (writes != NULL) {
        struct write *run = writes;
        if (goes_alone(run)) {
            writes = run->next;
            if (is_document(run))
                writer_work_document(w, run);
            else if (is_notice(run))
                writer_work_notice(w, run);
            else
                work_key(w, run);
            continue;
        }
        struct write *last = run;
        while (last->next != NULL && !goes_alone(last->next))
            last = last->next;
        writes = last->next;
        last->next = NULL;
        work_facts(w, run);
    }
}
