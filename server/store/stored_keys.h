/* SPDX-License-Identifier: MIT */
/* stored_keys.h - keys for writing, as an event file keeps them: by their hash. See keys.h for the
 * keys themselves, store.h for results and threads. */
#ifndef CAIRN_STORED_KEYS_H
#define CAIRN_STORED_KEYS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct store;

struct stored_key {
    int64_t id;
    unsigned char hash[32]; /* see key_hash */
    bool organiser;         /* else a timekeeper's */
    bool revoked;
    char *points; /* a timekeeper's points and items, with commas; "" for all */
    char *label;
    int64_t created_ms; /* since 1970 */
};

/* Adds a key, inside a transaction.
 *   id  gets its id; may be NULL */
int store_add_key(struct store *store, const unsigned char hash[32], bool organiser,
                  const char *points, const char *label, int64_t created_ms, int64_t *id);

/* Revokes a key, inside a transaction. Returns ERR_UNKNOWN where no such key is in force. */
int store_revoke_key(struct store *store, int64_t key_id, int64_t revoked_ms);

/* All keys, revoked ones too. Owner: the caller, see stored_keys_free. */
int store_keys(struct store *store, struct stored_key **out, size_t *count);
void stored_keys_free(struct stored_key *keys, size_t count);

#endif
