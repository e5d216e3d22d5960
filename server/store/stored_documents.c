/* SPDX-License-Identifier: MIT */
#include "store/stored_documents.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "store/store_private.h"

int store_add_upload(struct store *s, int64_t received_ms, const char *source, int64_t key_id,
                     const char *kind, const char *media_type, const void *body, size_t len,
                     int64_t *id) {
    sqlite3_stmt *st = store_statement(s, ADD_UPLOAD);
    int bad = 0;
    bind_int(st, ":received_ms", received_ms, &bad);
    bind_text(st, ":source", source, &bad);
    bind_key(st, key_id, &bad);
    bind_text(st, ":kind", kind, &bad);
    bind_text(st, ":media_type", media_type, &bad);
    bind_blob(st, ":body", body, len, &bad);
    int err = store_run(s, st, bad);
    if (err == ERR_OK && id != NULL)
        *id = sqlite3_last_insert_rowid(s->db);
    return err;
}

int store_add_document(struct store *s, const char *name, int64_t upload_id) {
    sqlite3_stmt *st = store_statement(s, ADD_DOCUMENT);
    int bad = 0;
    bind_text(st, ":name", name, &bad);
    bind_int(st, ":upload_id", upload_id, &bad);
    return store_run(s, st, bad);
}

int store_document(struct store *s, const char *name, char **text, size_t *len) {
    sqlite3_stmt *st = store_statement(s, DOCUMENT);
    int bad = 0;
    int err = ERR_OK;
    *text = NULL;
    *len = 0;
    bind_text(st, ":name", name, &bad);
    if (bad != SQLITE_OK)
        return store_failed(s);
    if (!store_next_row(s, st, &err))
        return err == ERR_OK ? ERR_UNKNOWN : err;
    int size = sqlite3_column_bytes(st, 0);
    *text = malloc((size_t)size + 1);
    if (*text == NULL) {
        err = ERR_NOMEM;
    } else {
        if (size > 0)
            memcpy(*text, sqlite3_column_blob(st, 0), (size_t)size);
        (*text)[size] = '\0';
        *len = (size_t)size;
    }
    (void)sqlite3_reset(st);
    (void)sqlite3_clear_bindings(st);
    return err;
}

int store_document_known(struct store *s, const char *name, const char *text, size_t len,
                         bool *known) {
    sqlite3_stmt *st = store_statement(s, DOCUMENT_KNOWN);
    int bad = 0;
    int err = ERR_OK;
    bind_text(st, ":name", name, &bad);
    bind_blob(st, ":body", text, len, &bad);
    if (bad != SQLITE_OK)
        return store_failed(s);
    if (!store_next_row(s, st, &err))
        return err == ERR_OK ? ERR_IO : err;
    *known = sqlite3_column_int64(st, 0) > 0;
    (void)sqlite3_reset(st);
    (void)sqlite3_clear_bindings(st);
    return ERR_OK;
}

int store_add_change_note(struct store *s, const struct change_note *note, int64_t upload_id) {
    sqlite3_stmt *st = store_statement(s, ADD_CHANGE_NOTE);
    int bad = 0;
    bind_int(st, ":upload_id", upload_id, &bad);
    bind_text(st, ":made_by", note->made_by, &bad);
    bind_text(st, ":reason", note->reason, &bad);
    bind_text(st, ":since", note->since, &bad);
    return store_run(s, st, bad);
}
