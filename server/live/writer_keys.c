/* SPDX-License-Identifier: MIT */
/* Keys made and revoked, and crews' codes renewed. Keys change no result, so that they make no new
 * revision: the snapshot is made again for its ring of keys. */
#include <sodium.h>

#include "base/err.h"
#include "live/writer_private.h"
#include "store/code_book.h"
#include "store/stored_keys.h"

static int take_key(struct transaction *t, struct write *head) {
    struct key_write *write = key_write_of(head);
    unsigned char hash[32];
    key_hash(write->text, hash);
    t->stores = t->keys = true;
    return store_add_key(t->w->store, hash, write->organiser, write->points, write->label, t->now,
                         &write->id);
}

static void clear_key(struct write *head) {
    struct key_write *write = key_write_of(head);
    sodium_memzero(write->text, sizeof write->text);
}

static int take_revocation(struct transaction *t, struct write *head) {
    t->stores = t->keys = true;
    int err = store_revoke_key(t->w->store, revocation_write_of(head)->id, t->now);
    return err == ERR_UNKNOWN ? ERR_IO : err;
}

static int take_code_renewal(struct transaction *t, struct write *head) {
    struct code_renewal_write *write = code_renewal_write_of(head);
    write->serial = code_book_serial(&t->w->keys->codes, write->car) + 1;
    struct code_renewal renewal = {
        .car = write->car, .serial = write->serial, .renewed_ms = t->now};
    t->stores = t->office = t->keys = true;
    return store_add_renewal(t->w->store, &renewal, t->key->id);
}

const struct write_operations key_operations = {
    .sort = UPLOAD_OTHER, .take = take_key, .clear = clear_key};

const struct write_operations revocation_operations = {.sort = UPLOAD_OTHER,
                                                       .take = take_revocation};

const struct write_operations code_renewal_operations = {
    .sort = UPLOAD_OTHER, .take = take_code_renewal, .count = writer_count_one};
