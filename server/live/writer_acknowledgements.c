/* SPDX-License-Identifier: MIT */
/* Doubts and refusals that somebody acknowledged, or took up again. */
#include "live/writer_private.h"
#include "store/stored_acknowledgements.h"

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
