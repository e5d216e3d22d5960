/* SPDX-License-Identifier: MIT */
/* The part of an answer that belongs to no revision: whom the file stands by for, keys, and what
 * crews' codes are made from. */
#include <jansson.h>
#include <sodium.h>
#include <string.h>

#include "base/err.h"
#include "remote/follower_private.h"
#include "store/code_book.h"
#include "store/store.h"
#include "store/store_lock.h"
#include "store/stored_keys.h"
#include "system/system_clock.h"

/* The key of that hash among those stored; NULL where there is none. */
static const struct stored_key *find_key(const struct stored_key *keys, size_t count,
                                         const unsigned char hash[32]) {
    for (size_t i = 0; i < count; i++) {
        if (memcmp(keys[i].hash, hash, sizeof keys[i].hash) == 0)
            return &keys[i];
    }
    return NULL;
}

static int take_key(struct follower *f, const json_t *item, const struct stored_key *keys,
                    size_t count, struct follower_news *news) {
    unsigned char hash[32];
    struct file_text points = follower_text(item, "points");
    struct file_text label = follower_text(item, "label");
    bool revoked = json_is_true(json_object_get(item, "revoked"));
    if (points.text == NULL || label.text == NULL ||
        !follower_bytes(item, "hash", hash, sizeof hash))
        return ERR_INPUT;
    const struct stored_key *known = find_key(keys, count, hash);
    int64_t id = known == NULL ? 0 : known->id;
    int err = ERR_OK;
    if (known == NULL)
        err = store_add_key(f->store, hash, json_is_true(json_object_get(item, "organiser")),
                            points.text, label.text, follower_number(item, "created_ms"), &id);
    if (err == ERR_OK && revoked && (known == NULL || !known->revoked))
        err = store_revoke_key(f->store, id, now_ms());
    news->keys += known == NULL || known->revoked != revoked;
    return err;
}

/* Whether the book has this very renewal. */
static bool has_renewal(const struct code_book *book, const struct code_renewal *renewal) {
    for (size_t i = 0; i < book->count; i++) {
        if (book->renewals[i].car == renewal->car && book->renewals[i].serial == renewal->serial)
            return true;
    }
    return false;
}

/* The other side's secret takes the place of the one that this file began with. */
static int take_codes(struct follower *f, const json_t *codes, struct follower_news *news) {
    const json_t *list = json_object_get(codes, "renewals");
    unsigned char secret[CODE_SECRET_LEN];
    struct code_book ours;
    if (codes == NULL) /* a server of an earlier version */
        return ERR_OK;
    if (!follower_bytes(codes, "secret", secret, sizeof secret) || !json_is_array(list))
        return ERR_INPUT;
    int err = store_code_book(f->store, &ours);
    if (err != ERR_OK && err != ERR_UNKNOWN)
        return err;
    bool same = err == ERR_OK && sodium_memcmp(ours.secret, secret, sizeof secret) == 0;
    err =
        same ? ERR_OK : store_add_code_secret(f->store, secret, follower_number(codes, "made_ms"));
    news->codes += !same;
    for (size_t i = 0; err == ERR_OK && i < json_array_size(list); i++) {
        const json_t *item = json_array_get(list, i);
        struct code_renewal renewal = {.car = follower_number(item, "car"),
                                       .serial = follower_number(item, "serial"),
                                       .renewed_ms = follower_number(item, "renewed_ms")};
        if (has_renewal(&ours, &renewal))
            continue;
        err = store_add_renewal(f->store, &renewal, 0);
        news->codes++;
    }
    sodium_memzero(secret, sizeof secret);
    code_book_clear(&ours);
    return err;
}

/* From now on the file stands by for the server that answers. Not where it was made the first
 * since: the other one has been taken over from, and does not know. Nor where it is the first that
 * a server holds: somebody gave the wrong folder. */
static int stand_by(struct follower *f, const json_t *answer, struct textbuf *why) {
    struct store_epoch ours;
    struct stored_revision last;
    int64_t theirs = follower_number(answer, "epoch");
    theirs = theirs < 1 ? 1 : theirs; /* a server of an earlier version sends none */
    int err = store_last_epoch(f->store, &ours);
    if (err == ERR_OK)
        err = store_last_revision(f->store, &last);
    if (err != ERR_OK)
        return err;
    bool promoted = !ours.standby && ours.made_ms > 0;
    if (theirs < ours.number || (promoted && theirs == ours.number)) {
        textbuf_printf(why,
                       "this file was made the first after that server (epoch %lld, the server's "
                       "is %lld): let that one follow this one, or see cairn merge",
                       (long long)ours.number, (long long)theirs);
        return ERR_INPUT;
    }
    if (ours.standby && theirs == ours.number)
        return ERR_OK;
    if (!ours.standby && last.office > 0 && store_lock_is_held(f->path, HOLDER_SERVER)) {
        textbuf_puts(why, "a server holds this file as the first: stop it before the file stands "
                          "by for another");
        return ERR_INPUT;
    }
    const struct store_epoch now = {theirs, true, now_ms()};
    return store_add_epoch(f->store, &now);
}

int follower_take_keys(struct follower *f, const struct json_t *answer, struct follower_news *news,
                       struct textbuf *why) {
    struct store_epoch before;
    struct store_epoch after = {0};
    const json_t *list = json_object_get(answer, "keys");
    struct stored_key *keys = NULL;
    size_t count = 0;
    int err = store_begin(f->store);
    if (err != ERR_OK)
        return err;
    err = store_last_epoch(f->store, &before);
    if (err == ERR_OK)
        err = stand_by(f, answer, why);
    if (err == ERR_OK)
        err = store_last_epoch(f->store, &after);
    if (err == ERR_OK)
        err = store_keys(f->store, &keys, &count);
    for (size_t i = 0; err == ERR_OK && i < json_array_size(list); i++)
        err = take_key(f, json_array_get(list, i), keys, count, news);
    stored_keys_free(keys, count);
    if (err == ERR_OK)
        err = take_codes(f, json_object_get(answer, "codes"), news);
    bool epoch_changed = after.standby != before.standby || after.number != before.number;
    if (err == ERR_OK && (epoch_changed || news->keys + news->codes > 0))
        return store_commit(f->store);
    store_rollback(f->store);
    return err;
}
