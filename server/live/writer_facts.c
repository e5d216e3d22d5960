/* SPDX-License-Identifier: MIT */
/* Facts: rows of readings and decisions, each taken or refused by itself. */
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "live/etag.h"
#include "live/writer_private.h"
#include "office/unassigned.h"
#include "store/store.h"
#include "store/stored_keys.h"
#include "system/hard_limits.h"

/* Notes a row that is not taken. Returns ERR_OK, or ERR_NOMEM: then the transaction must fail,
 * since the answer could not name this row. */
static int refuse(struct rows_write *write, size_t row, enum row_refusal class, const char *id,
                  const char *reason) {
    struct refused_row *list = write->refused;
    size_t count = write->refused_count;
    /* The capacity is the next power of two: a body may hold 50,000 rows. */
    if ((count & (count - 1)) == 0)
        list = realloc(list, (count == 0 ? 1 : 2 * count) * sizeof *list);
    if (list == NULL)
        return ERR_NOMEM;
    write->refused = list;
    list[count] = (struct refused_row){row, class, strdup(id), strdup(reason)};
    write->refused_count++;
    return list[count].id == NULL || list[count].reason == NULL ? ERR_NOMEM : ERR_OK;
}

/* The same of a reading, which is also kept for the office. Of an upload only the first are kept
 * one by one: each is a row in the file, and thousands would hold up the event's other writes. */
static int refuse_reading(struct transaction *t, struct rows_write *write,
                          const struct reading_text *text, size_t row, int64_t upload,
                          enum row_refusal class, const char *reason) {
    int err = refuse(write, row, class, text->field[READING_ID], reason);
    return err == ERR_OK && write->refused_count <= LIMIT_REFUSALS_KEPT
               ? transaction_keep_refusal(t, text, row, reason, upload)
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

/* Why a timekeeper's key may not send this reading; NULL where it may. The text is the same whether
 * the point is another key's or does not exist. */
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

/* A fact that memory holds now, and the disk with the commit. */
static void note_new(struct transaction *t, struct rows_write *write, bool shows) {
    t->facts = t->office = true;
    t->public = t->public || shows;
    write->accepted++;
}

static int add_reading(struct transaction *t, struct rows_write *write, int index, int64_t upload) {
    struct writer *w = t->w;
    const struct model *model = w->model;
    const struct reading *reading = readings_at(model->readings, index);
    const char *replaces = reading->text.field[READING_REPLACES];
    int other = *replaces == '\0' ? -1 : readings_find(model->readings, replaces);
    note_new(t, write, view_shows_reading(w->set->public_view, model, reading));
    writer_touch(w, reading->car);
    if (other >= 0)
        writer_touch(w, readings_at(model->readings, other)->car);
    return store_add_reading(w->store, reading, upload);
}

static int take_reading(struct transaction *t, struct rows_write *write, size_t row, int64_t upload,
                        struct textbuf *reason) {
    const struct model *model = t->w->model;
    const struct upload_row *from = &write->rows.rows[row];
    struct reading_text text = {.extras = from->extras,
                                .from_desk = reading_names_desk(from->extras)};
    int index = -1;
    memcpy(text.field, from->fields, sizeof text.field);
    const char *wrong = from->wrong != NULL ? from->wrong : beyond_key(t->w, t->key, &text);
    if (wrong != NULL)
        return refuse_reading(t, write, &text, row + 1, upload,
                              from->wrong != NULL ? ROW_UNREADABLE : ROW_NOT_THIS_KEYS, wrong);
    textbuf_reset(reason);
    switch (readings_add(model->readings, &text, reason, &index)) {
    case FACT_NOMEM:
        return ERR_NOMEM;
    case FACT_REFUSED:
        return refuse_reading(
            t, write, &text, row + 1, upload,
            class_of_row(model, readings_find(model->readings, text.field[READING_ID]) >= 0,
                         text.field[READING_POINT], text.field[READING_CAR]),
            textbuf_text(reason));
    case FACT_DUPLICATE:
        write->duplicates++;
        return ERR_OK;
    case FACT_ADDED:
        break;
    }
    return add_reading(t, write, index, upload);
}

static int take_decision(struct transaction *t, struct rows_write *write, size_t row,
                         int64_t upload, struct textbuf *reason) {
    struct writer *w = t->w;
    struct decisions *decisions = w->model->decisions;
    const struct upload_row *from = &write->rows.rows[row];
    struct decision_text text = {.extras = from->extras};
    int index = -1;
    memcpy(text.field, from->fields, sizeof text.field);
    const char *id = text.field[DECISION_ID];
    if (from->wrong != NULL)
        return refuse(write, row + 1, ROW_UNREADABLE, id, from->wrong);
    textbuf_reset(reason);
    /* Over HTTP a revoke must name a decision that is there, or comes with it: so there are no
     * circles. */
    if (strcmp(text.field[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
        decisions_find(decisions, text.field[DECISION_VALUE]) < 0) {
        textbuf_printf(reason, "value “%s” is the id of no decision", text.field[DECISION_VALUE]);
        return refuse(write, row + 1, ROW_VALUE, id, textbuf_text(reason));
    }
    switch (decisions_add(decisions, &text, reason, &index)) {
    case FACT_NOMEM:
        return ERR_NOMEM;
    case FACT_REFUSED:
        return refuse(write, row + 1,
                      class_of_row(w->model, decisions_find(decisions, id) >= 0, "",
                                   text.field[DECISION_CAR]),
                      id, textbuf_text(reason));
    case FACT_DUPLICATE:
        write->duplicates++;
        return ERR_OK;
    case FACT_ADDED:
        break;
    }
    const struct decision *decision = decisions_at(decisions, index);
    t->decisions = true;
    note_new(t, write, view_shows_decision(w->set->public_view, w->model, decision));
    return store_add_decision(w->store, decision, upload);
}

static int by_row(const void *a, const void *b) {
    const struct refused_row *x = a;
    const struct refused_row *y = b;
    return (x->row > y->row) - (x->row < y->row);
}

/* Decisions of a write that are being taken. */
struct decisions_taken {
    struct transaction *t;
    struct rows_write *write;
    int64_t upload;
    struct textbuf *reason;
};

/* True for a row that revokes what is not there, or not yet. */
static bool revokes_nothing(const void *context, const struct upload_row *row) {
    const struct decisions_taken *taken = context;
    return row->wrong == NULL &&
           strcmp(row->fields[DECISION_KIND], decision_word(DECIDE_REVOKE)) == 0 &&
           decisions_find(taken->t->w->model->decisions, row->fields[DECISION_VALUE]) < 0;
}

static int take_decision_row(void *context, size_t row) {
    const struct decisions_taken *taken = context;
    return take_decision(taken->t, taken->write, row, taken->upload, taken->reason);
}

static int take_decision_rows(struct transaction *t, struct rows_write *write, int64_t upload,
                              struct textbuf *reason) {
    struct decisions_taken taken = {t, write, upload, reason};
    const struct row_taker taker = {revokes_nothing, take_decision_row, &taken};
    int err = upload_take_in_turn(&write->rows, &taker);
    if (write->refused_count > 1)
        qsort(write->refused, write->refused_count, sizeof *write->refused, by_row);
    return err;
}

static int take_reading_rows(struct transaction *t, struct rows_write *write, int64_t upload,
                             struct textbuf *reason) {
    int err = ERR_OK;
    for (size_t row = 0; err == ERR_OK && row < write->rows.count; row++)
        err = take_reading(t, write, row, upload, reason);
    if (err == ERR_OK && write->refused_count > LIMIT_REFUSALS_KEPT)
        err = transaction_keep_more_refusals(t, write->refused_count - LIMIT_REFUSALS_KEPT, upload);
    return err;
}

/* A row that names no car or point of the event matches: it is refused with its own reason. */
static bool row_matches(const struct model *model, const struct upload_row *row,
                        const char *if_match) {
    const struct readings_view view = readings_view(model->readings);
    char tag[ETAG_LEN];
    int64_t number = 0;
    int place = readings_find(model->readings, row->fields[READING_REPLACES]);
    const struct reading *other = place < 0 ? NULL : readings_view_at(view, place);
    int car = -1;
    int point = strmap_get(&model->rules->point_by_id, row->fields[READING_POINT]);
    if (other != NULL && other->aside != ASIDE_NOT) {
        etag_of_evidence(unassigned_said(view, other), tag);
        return etag_is(if_match, tag);
    }
    if (other != NULL) {
        car = other->car;
        point = other->point;
    } else if (decimal_parse_whole(row->fields[READING_CAR], 1, INT64_MAX, &number) == ERR_OK) {
        car = entries_find(model->entries, number);
    }
    if (car < 0 || point < 0)
        return true;
    etag_of_evidence(readings_evidence_count(view, car, point), tag);
    return etag_is(if_match, tag);
}

/* True where If-Match names what is in force: of decisions their log; of readings what was said of
 * the car and the point of each row, or of the reading that the row replaces. */
static bool matches(const struct writer *w, const struct rows_write *write) {
    const struct model *model = w->model;
    const char *if_match = write->head.if_match;
    if (write->head.operations == &decisions_operations)
        return etag_is_decisions(if_match, decisions_count(model->decisions));
    for (size_t i = 0; i < write->rows.count; i++) {
        if (!row_matches(model, &write->rows.rows[i], if_match))
            return false;
    }
    return true;
}

/* Rows with the body that they came in. */
static int take_rows(struct transaction *t, struct write *head,
                     int (*take)(struct transaction *t, struct rows_write *write, int64_t upload,
                                 struct textbuf *reason)) {
    struct rows_write *write = rows_write_of(head);
    struct textbuf reason = {0};
    int64_t upload = 0;
    /* Only an organiser reads doubts, and so can name one in If-Match. */
    if (*head->if_match != '\0' && t->key->organiser && !matches(t->w, write))
        return write_decline(head, WRITE_STALE);
    t->stores = true;
    int err = transaction_add_upload(t, head, &write->body, &upload);
    if (err == ERR_OK)
        err = take(t, write, upload, &reason);
    if (reason.failed)
        err = ERR_NOMEM;
    textbuf_clear(&reason);
    return err;
}

static int take_readings(struct transaction *t, struct write *head) {
    return take_rows(t, head, take_reading_rows);
}

static int take_decisions(struct transaction *t, struct write *head) {
    return take_rows(t, head, take_decision_rows);
}

static void count_rows(const struct write *head, struct write_figures *figures) {
    const struct rows_write *write = rows_write_of(head);
    atomic_fetch_add(&figures->accepted, write->accepted);
    atomic_fetch_add(&figures->duplicates, write->duplicates);
    for (size_t i = 0; i < write->refused_count; i++)
        atomic_fetch_add(&figures->refused.counts[write->refused[i].class], 1);
}

static void clear_rows(struct write *head) {
    struct rows_write *write = rows_write_of(head);
    for (size_t i = 0; i < write->refused_count; i++) {
        free(write->refused[i].id);
        free(write->refused[i].reason);
    }
    free(write->refused);
    upload_clear(&write->rows);
}

const struct write_operations readings_operations = {.upload = "readings",
                                                     .author = AUTHOR_ANY_KEY,
                                                     .sort = UPLOAD_READINGS,
                                                     .batched = true,
                                                     .urgent = true,
                                                     .take = take_readings,
                                                     .count = count_rows,
                                                     .clear = clear_rows};

const struct write_operations decisions_operations = {.upload = "decisions",
                                                      .author = AUTHOR_ANY_KEY,
                                                      .sort = UPLOAD_DECISIONS,
                                                      .batched = true,
                                                      .take = take_decisions,
                                                      .count = count_rows,
                                                      .clear = clear_rows};
