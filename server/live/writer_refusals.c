/* SPDX-License-Identifier: MIT */
/* Readings that were refused, kept for the office. */
#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "live/writer_private.h"
#include "office/doubt_id.h"
#include "store/stored_refusals.h"
#include "system/hard_limits.h"

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
