/* SPDX-License-Identifier: MIT */
#include "store/stored_notices.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

int store_add_notice(struct store *s, const struct stored_notice *n, int64_t upload_id) {
    sqlite3_stmt *st = store_statement(s, ADD_NOTICE);
    int bad = 0;
    bind_int(st, ":id", n->number, &bad);
    bind_int(st, ":posted_ms", n->posted_ms, &bad);
    bind_text(st, ":title", n->title, &bad);
    bind_text(st, ":body", n->body, &bad);
    bind_int(st, ":upload_id", upload_id, &bad);
    bind_text(st, ":kind", n->kind, &bad);
    bind_text(st, ":basis", n->made_from, &bad);
    if (n->content != NULL) {
        bind_blob(st, ":content", n->content, strlen(n->content), &bad);
        bind_blob(st, ":hash", n->seal.hash, sizeof n->seal.hash, &bad);
        bind_blob(st, ":signature", n->seal.signature, sizeof n->seal.signature, &bad);
        bind_blob(st, ":signer", n->seal.signer, sizeof n->seal.signer, &bad);
    }
    if (n->protest_until_ms > 0)
        bind_int(st, ":protest_until_ms", n->protest_until_ms, &bad);
    if (n->supersedes > 0)
        bind_int(st, ":supersedes", n->supersedes, &bad);
    return store_run(s, st, bad);
}

/* Bytes of a fixed length; false where the column holds another one. */
static bool column_bytes(sqlite3_stmt *st, int column, unsigned char *out, size_t len) {
    if (sqlite3_column_bytes(st, column) != (int)len)
        return false;
    memcpy(out, sqlite3_column_blob(st, column), len);
    return true;
}

/* A seal that is damaged is none: the notice then does not verify. */
static char *load_content(sqlite3_stmt *st, struct seal *seal) {
    if (sqlite3_column_type(st, 5) == SQLITE_NULL ||
        !column_bytes(st, 6, seal->hash, sizeof seal->hash) ||
        !column_bytes(st, 7, seal->signature, sizeof seal->signature) ||
        !column_bytes(st, 8, seal->signer, sizeof seal->signer))
        return NULL;
    return strndup(sqlite3_column_blob(st, 5), (size_t)sqlite3_column_bytes(st, 5));
}

int store_notices(struct store *s, struct stored_notice **out, size_t *count) {
    sqlite3_stmt *st = store_statement(s, ALL_NOTICES);
    struct stored_list list = {.size = sizeof(struct stored_notice)};
    int err = ERR_OK;
    for (struct stored_notice *n; (n = store_next_item(s, st, &list, &err)) != NULL;) {
        *n = (struct stored_notice){.number = sqlite3_column_int64(st, 0),
                                    .posted_ms = sqlite3_column_int64(st, 1),
                                    .title = store_column_copy(st, 2),
                                    .body = store_column_copy(st, 3),
                                    .kind = store_column_copy(st, 4),
                                    .protest_until_ms = sqlite3_column_int64(st, 9),
                                    .supersedes = sqlite3_column_int64(st, 10),
                                    .made_from = store_column_copy(st, 11)};
        n->content = load_content(st, &n->seal);
        if (n->title == NULL || n->body == NULL || n->kind == NULL || n->made_from == NULL)
            err = ERR_NOMEM;
    }
    if (err != ERR_OK) {
        stored_notices_free(list.items, list.used);
        return err;
    }
    *out = list.items;
    *count = list.used;
    return ERR_OK;
}

void stored_notices_free(struct stored_notice *list, size_t count) {
    for (size_t i = 0; i < count; i++) {
        free(list[i].title);
        free(list[i].body);
        free(list[i].kind);
        free(list[i].content);
        free(list[i].made_from);
    }
    free(list);
}
