/* SPDX-License-Identifier: MIT */
#include "store/stored_keys.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

int store_add_key(struct store *s, const unsigned char hash[32], bool organiser, const char *points,
                  const char *label, int64_t created_ms, int64_t *id) {
    sqlite3_stmt *st = store_statement(s, ADD_KEY);
    int bad = 0;
    bind_blob(st, ":hash", hash, 32, &bad);
    bind_text(st, ":role", organiser ? "organiser" : "timekeeper", &bad);
    bind_text(st, ":points", points, &bad);
    bind_text(st, ":label", label, &bad);
    bind_int(st, ":created_ms", created_ms, &bad);
    int err = store_run(s, st, bad);
    if (err == ERR_OK && id != NULL)
        *id = sqlite3_last_insert_rowid(s->db);
    return err;
}

int store_revoke_key(struct store *s, int64_t key_id, int64_t revoked_ms) {
    sqlite3_stmt *st = store_statement(s, ADD_REVOCATION);
    int bad = 0;
    bind_int(st, ":key_id", key_id, &bad);
    bind_int(st, ":revoked_ms", revoked_ms, &bad);
    int err = store_run(s, st, bad);
    if (err == ERR_OK && sqlite3_changes(s->db) == 0)
        err = ERR_UNKNOWN;
    return err;
}

int store_keys(struct store *s, struct stored_key **out, size_t *count) {
    sqlite3_stmt *st = store_statement(s, ALL_KEYS);
    struct stored_list list = {.size = sizeof(struct stored_key)};
    int err = ERR_OK;
    for (struct stored_key *key; (key = store_next_item(s, st, &list, &err)) != NULL;) {
        *key = (struct stored_key){.id = sqlite3_column_int64(st, 0),
                                   .organiser = store_column_is(st, 2, "organiser"),
                                   .points = store_column_copy(st, 3),
                                   .label = store_column_copy(st, 4),
                                   .created_ms = sqlite3_column_int64(st, 5),
                                   .revoked = sqlite3_column_int(st, 6) != 0};
        if (sqlite3_column_bytes(st, 1) == (int)sizeof key->hash)
            memcpy(key->hash, sqlite3_column_blob(st, 1), sizeof key->hash);
        else
            key->revoked = true; /* a damaged hash opens nothing */
        if (key->points == NULL || key->label == NULL)
            err = ERR_NOMEM;
    }
    if (err != ERR_OK) {
        stored_keys_free(list.items, list.used);
        return err;
    }
    *out = list.items;
    *count = list.used;
    return ERR_OK;
}

void stored_keys_free(struct stored_key *keys, size_t count) {
    for (size_t i = 0; i < count; i++) {
        free(keys[i].points);
        free(keys[i].label);
    }
    free(keys);
}
