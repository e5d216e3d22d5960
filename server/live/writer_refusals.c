/* SPDX-License-Identifier: MIT */
/* Rows that were refused, doubts that somebody acknowledged, and rulings on what is there no more.
 */
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "live/etag.h"
#include "live/writer_private.h"
#include "system/hard_limits.h"
#include "store/stored_refusals.h"
#include "store/stored_acknowledgements.h"
#include "office/doubt_id.h"

/* A row that names no car or point of the event is refused as ever, and matches. */
static bool row_matches(const struct model *model, const struct upload_row *row,
                        const char *if_match) {
    char tag[ETAG_LEN];
    int64_t number = 0;
    int other = readings_find(model->readings, row->fields[READING_REPLACES]);
    int car = -1;
    int point = strmap_get(&model->rules->point_by_id, row->fields[READING_POINT]);
    if (other >= 0) {
        car = readings_at(model->readings, other)->car;
        point = readings_at(model->readings, other)->point;
    } else if (decimal_parse_whole(row->fields[READING_CAR], 1, INT64_MAX, &number) == ERR_OK) {
        car = entries_find(model->entries, number);
    }
    if (car < 0 || point < 0)
        return true;
    etag_of_evidence(readings_evidence_count(readings_view(model->readings), car, point), tag);
    return etag_is(if_match, tag);
}

bool writer_matches(const struct writer *w, const struct rows_write *write) {
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

int transaction_keep_refusal(struct transaction *t, const struct reading_text *text, size_t row,
                             const char *reason, int64_t upload) {
    char doubt_id[DOUBT_ID_LEN + 1];
    char sender[24];
    struct textbuf id = {0};
    const char *const *f = text->field;
    (void)snprintf(sender, sizeof sender, "%lld", (long long)t->key->id);
    textbuf_puts(&id, f[READING_ID]);
    if (id.len == 0)
        reading_derive_id(text, &id);
    if (id.failed)
        return ERR_NOMEM;
    const char *parts[READING_FIELD_COUNT + 3] = {"refused", sender, reason};
    memcpy(&parts[3], f, sizeof text->field);
    doubt_id_make(doubt_id, parts, sizeof parts / sizeof parts[0]);
    struct stored_refusal refusal = {.row = (int64_t)row,
                                     .doubt_id = doubt_id,
                                     .point = (char *)f[READING_POINT],
                                     .car = (char *)f[READING_CAR],
                                     .time = (char *)f[READING_TIME],
                                     .elapsed = (char *)f[READING_ELAPSED],
                                     .faults = (char *)f[READING_FAULTS],
                                     .reading_id = (char *)textbuf_text(&id),
                                     .reason = (char *)reason};
    int err = store_add_refusal(t->w->store, &refusal, upload);
    textbuf_clear(&id);
    return err;
}

int transaction_keep_more_refusals(struct transaction *t, size_t more, int64_t upload) {
    char doubt_id[DOUBT_ID_LEN + 1];
    char sender[24];
    char count[32];
    char reason[160];
    (void)snprintf(sender, sizeof sender, "%lld", (long long)t->key->id);
    /* No id of a reading holds a blank, so no reading that comes later can settle this. */
    (void)snprintf(count, sizeof count, "%zu rows", more);
    (void)snprintf(reason, sizeof reason,
                   "%zu more row%s refused; after the first %d of an upload they are not kept one "
                   "by one",
                   more, more == 1 ? " was" : "s were", LIMIT_REFUSALS_KEPT);
    const char *parts[] = {"more refused", sender, reason};
    doubt_id_make(doubt_id, parts, sizeof parts / sizeof parts[0]);
    struct stored_refusal refusal = {.row = 0,
                                     .doubt_id = doubt_id,
                                     .point = "",
                                     .car = "",
                                     .time = "",
                                     .elapsed = "",
                                     .faults = "",
                                     .reading_id = count,
                                     .reason = reason};
    return store_add_refusal(t->w->store, &refusal, upload);
}

static int take_acknowledgement(struct transaction *t, struct write *head) {
    const struct acknowledgement_write *write = acknowledgement_write_of(head);
    struct stored_acknowledgement a = {.made_ms = t->now,
                                       .doubt_id = (char *)write->id,
                                       .reopened = write->reopened,
                                       .car = (char *)write->subject.car,
                                       .point = (char *)textbuf_text(&write->subject.point),
                                       .title = (char *)textbuf_text(&write->subject.title),
                                       .made_by = (char *)write->by,
                                       .reason = (char *)write->reason};
    t->stores = t->office = true;
    return store_add_acknowledgement(t->w->store, &a, t->key->id);
}

static void clear_acknowledgement(struct write *head) {
    struct acknowledgement_write *write = acknowledgement_write_of(head);
    textbuf_clear(&write->subject.point);
    textbuf_clear(&write->subject.title);
}

const struct write_operations acknowledgement_operations = {.sort = UPLOAD_OTHER,
                                                            .take = take_acknowledgement,
                                                            .count = writer_count_one,
                                                            .clear = clear_acknowledgement};
