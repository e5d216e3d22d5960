/* SPDX-License-Identifier: MIT */
/* Keys made and revoked, and crews' codes renewed. Keys change no result, so that they make no new
 * revision: the snapshot is made again for its ring of keys. */
#include "base/err.h"
#include "live/writer_private.h"

static int take_key(struct transaction *t, struct write *write) {
    unsigned char hash[32];
    key_hash(write->new_key.text, hash);
    t->stores = t->keys = true;
    return store_add_key(t->w->store, hash, write->new_key.organiser, write->new_key.points,
                         write->new_key.label, t->now, &write->number);
}

static int take_revocation(struct transaction *t, struct write *write) {
    t->stores = t->keys = true;
    int err = store_revoke_key(t->w->store, write->number, t->now);
    return err == ERR_UNKNOWN ? ERR_IO : err;
}

static int take_code_renewal(struct transaction *t, struct write *write) {
    struct code_renewal renewal = {.car = write->number,
                                   .serial =
                                       code_book_serial(&t->w->keys->codes, write->number) + 1,
                                   .renewed_ms = t->now};
    write->serial = renewal.serial;
    t->stores = t->office = t->keys = true;
    return store_add_renewal(t->w->store, &renewal, t->key->id);
}

const struct write_operations key_operations = {.sort = UPLOAD_OTHER, .take = take_key};

const struct write_operations revocation_operations = {.sort = UPLOAD_OTHER,
                                                       .take = take_revocation};

const struct write_operations code_renewal_operations = {
    .sort = UPLOAD_OTHER, .take = take_code_renewal, .count = writer_count_one};
