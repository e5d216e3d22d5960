/* SPDX-License-Identifier: MIT */
/* Every statement of the store: its text, its parameters by name, its rows. */
#include <sqlite3.h>
#include <string.h>

#include "base/array.h"
#include "base/err.h"
#include "store/store_chain.h"
#include "store/store_private.h"

/* Statements that are used again and again are prepared once, at first use. */
static const char *const statement_texts[STATEMENT_COUNT] = {
    [ADD_UPLOAD] = ADD_LINKED("upload", "id", UPLOAD_COLUMNS,
                              ":received_ms, :source, :key_id, :kind, :media_type, :body"),
    [ADD_DOCUMENT] = ADD_LINKED("document", "id", DOCUMENT_COLUMNS, ":name, :upload_id"),
    [ADD_READING] = ADD_LINKED("reading", "seq", READING_COLUMNS,
                               ":id, :given_id, :point, :car, :time, :elapsed, :faults, :made_at,"
                               " :made_by, :replaces, :void, :reason, :extras, :upload_id"),
    [ADD_DECISION] = ADD_LINKED("decision", "seq", DECISION_COLUMNS,
                                ":id, :given_id, :kind, :car, :point, :value, :reason, :made_at,"
                                " :made_by, :extras, :upload_id"),
    [ADD_NOTICE] =
        ADD_KEYED("notice", "id", ":id", LAST_LINK("notice", "id"), NOTICE_COLUMNS,
                  ":posted_ms, :title, :body, :upload_id, :kind, :content, :hash, :signature,"
                  " :signer, :protest_until_ms, :supersedes, :basis"),
    [ADD_ENQUIRY] = ADD_LINKED("enquiry", "id", ENQUIRY_COLUMNS,
                               ":opened_ms, :key_id, :kind, :car, :point, :text, :body, :source"),
    [ADD_ANSWER] = ADD_KEYED("enquiry_answer", "enquiry_id", ":enquiry_id", "NULL", ANSWER_COLUMNS,
                             ":answered_ms, :key_id, :outcome, :text, :body"),
    [ADD_CODE_SECRET] = ADD_LINKED("code_secret", "id", SECRET_COLUMNS, ":made_ms, :secret"),
    [ADD_RENEWAL] =
        ADD_LINKED("code_renewal", "id", RENEWAL_COLUMNS, ":car, :serial, :renewed_ms, :key_id"),
    [ADD_REVISION] = ADD_KEYED("revision", "office", ":office", LAST_LINK("revision", "office"),
                               REVISION_COLUMNS, ":public, :committed_ms, " HEADS),
    [ADD_KEY] = ADD_LINKED("key", "id", KEY_COLUMNS, ":hash, :role, :points, :label, :created_ms"),
    [ADD_REVOCATION] = "INSERT INTO key_revocation (key_id, revoked_ms, chain)"
                       " SELECT id, :revoked_ms,"
                       " chained('key_revocation', NULL, id, :revoked_ms)"
                       " FROM key WHERE id = :key_id"
                       " AND id NOT IN (SELECT key_id FROM key_revocation)",
    [ALL_KEYS] = "SELECT id, hash, role, points, label, created_ms,"
                 " id IN (SELECT key_id FROM key_revocation) FROM key ORDER BY id",
    [DOCUMENT] = "SELECT upload.body FROM document JOIN upload ON upload.id = document.upload_id"
                 " WHERE document.name = :name ORDER BY document.id DESC LIMIT 1",
    [DOCUMENT_KNOWN] = "SELECT count(*) FROM document JOIN upload ON upload.id = document.upload_id"
                       " WHERE document.name = :name AND upload.body = :body",
    [ALL_READINGS] = "SELECT point, car, time, elapsed, faults, made_at, made_by, replaces, void,"
                     " reason, given_id, extras, seq, id FROM reading ORDER BY seq",
    [ALL_DECISIONS] = "SELECT kind, car, point, value, reason, made_at, made_by, given_id, extras,"
                      " seq, id FROM decision ORDER BY seq",
    [LAST_REVISION] = "SELECT office, public, committed_ms,"
                      " (SELECT first.committed_ms FROM revision AS first"
                      " WHERE first.public = revision.public ORDER BY first.office LIMIT 1)"
                      " FROM revision ORDER BY office DESC LIMIT 1",
    [ALL_NOTICES] = "SELECT id, posted_ms, title, body, kind, content, hash, signature, signer,"
                    " protest_until_ms, supersedes, basis FROM notice ORDER BY id",
    [ALL_ENQUIRIES] = "SELECT id, opened_ms, kind, car, point, enquiry.text, answered_ms, outcome,"
                      " enquiry_answer.text, source = 'crew' FROM enquiry"
                      " LEFT JOIN enquiry_answer ON enquiry_id = id ORDER BY id",
    [LAST_SECRET] = "SELECT secret, made_ms FROM code_secret ORDER BY id DESC LIMIT 1",
    [ALL_RENEWALS] = "SELECT car, serial, renewed_ms FROM code_renewal ORDER BY id",
    [ADD_REFUSAL] = ADD_LINKED("refusal", "id", REFUSAL_COLUMNS,
                               ":upload_id, :row, :case_id, :point, :car, :time, :elapsed,"
                               " :faults, :reading_id, :reason"),
    [ADD_ACKNOWLEDGEMENT] =
        ADD_LINKED("acknowledgement", "id", ACKNOWLEDGEMENT_COLUMNS,
                   ":made_ms, :key_id, :case_id, :state, :car, :point, :title, :made_by, :reason"),
    [ADD_CHANGE_NOTE] = ADD_KEYED("change_note", "upload_id", ":upload_id", "NULL", NOTE_COLUMNS,
                                  ":made_by, :reason, :since"),
    [ALL_ACKNOWLEDGEMENTS] = "SELECT case_id, state, car, point, title, made_by, reason, made_ms"
                             " FROM acknowledgement AS a WHERE id = (SELECT max(id) FROM"
                             " acknowledgement AS b WHERE b.case_id = a.case_id) ORDER BY id DESC",
    /* A row is settled once a reading of its id was taken, or is there with the same content, or
     * once one was taken that replaces it: a desk's correction. Of rows that were sent again, the
     * bare columns are those of the latest. */
    [OPEN_REFUSALS] =
        "SELECT max(r.id), count(*), r.upload_id, r.row, r.case_id, r.point, r.car, r.time,"
        " r.elapsed, r.faults, r.reading_id, r.reason, u.received_ms, u.key_id, key.label"
        " FROM refusal AS r JOIN upload AS u ON u.id = r.upload_id"
        " LEFT JOIN key ON key.id = u.key_id"
        " LEFT JOIN (SELECT replaces, max(upload_id) AS latest FROM reading"
        " WHERE replaces <> '' GROUP BY replaces) AS c ON c.replaces = r.reading_id"
        " WHERE NOT EXISTS (SELECT 1 FROM reading AS t WHERE t.id = r.reading_id"
        " AND (t.upload_id > r.upload_id OR (t.point = r.point AND t.car = r.car"
        " AND t.time = r.time AND t.elapsed = r.elapsed AND t.faults = r.faults)))"
        " AND coalesce(c.latest, -1) < r.upload_id"
        " AND coalesce((SELECT state FROM acknowledgement AS a WHERE a.case_id = r.case_id"
        " ORDER BY a.id DESC LIMIT 1), '') <> 'acknowledged'"
        " GROUP BY r.case_id ORDER BY max(r.id) DESC",
    [LOG_PAGE] = store_log_sql,
    [LOG_ENDS] =
        "SELECT (SELECT id FROM reading WHERE iif(:src = 3, seq < :id, upload_id < :upload)"
        " ORDER BY seq DESC LIMIT 1), (SELECT id FROM reading WHERE CASE :src WHEN 3 THEN"
        " seq <= :id WHEN 1 THEN upload_id <= :upload ELSE upload_id < :upload END"
        " ORDER BY seq DESC LIMIT 1), (SELECT id FROM decision WHERE iif(:src = 2, seq < :id,"
        " upload_id < :upload) ORDER BY seq DESC LIMIT 1), (SELECT id FROM decision WHERE"
        " iif(:src = 2, seq <= :id, upload_id < :upload) ORDER BY seq DESC LIMIT 1)",
    [DOCUMENT_VERSIONS] = "SELECT upload.body FROM document"
                          " JOIN upload ON upload.id = document.upload_id"
                          " WHERE document.name = :name AND upload.id <= :upload"
                          " ORDER BY document.id DESC LIMIT 2",
    [DATA_VERSION] = "PRAGMA data_version",
    [ADD_EPOCH] = ADD_LINKED("epoch", "id", EPOCH_COLUMNS, ":number, :state, :made_ms"),
    [LAST_EPOCH] = "SELECT number, state = 'standby', made_ms FROM epoch ORDER BY id DESC LIMIT 1",
    [BEGIN] = "BEGIN IMMEDIATE",
    [BEGIN_READING] = "BEGIN",
    [COMMIT] = "COMMIT",
    [ROLLBACK] = "ROLLBACK",
};

int store_failed(struct store *s) {
    textbuf_reset(&s->message);
    textbuf_puts(&s->message, sqlite3_errmsg(s->db));
    switch (sqlite3_errcode(s->db)) {
    case SQLITE_NOMEM:
        return ERR_NOMEM;
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return ERR_BUSY;
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        s->failed = true;
        return ERR_INPUT;
    default:
        s->failed = true;
        return ERR_IO;
    }
}

int store_fail_with(struct store *s, int err, const char *text) {
    textbuf_reset(&s->message);
    textbuf_puts(&s->message, text);
    return err;
}

int store_execute(struct store *s, const char *sql) {
    return sqlite3_exec(s->db, sql, NULL, NULL, NULL) == SQLITE_OK ? ERR_OK : store_failed(s);
}

sqlite3_stmt *store_statement(struct store *s, enum statement which) {
    if (s->statements[which] == NULL)
        (void)sqlite3_prepare_v3(s->db, statement_texts[which], -1, SQLITE_PREPARE_PERSISTENT,
                                 &s->statements[which], NULL);
    return s->statements[which];
}

static int parameter(sqlite3_stmt *st, const char *name) {
    return sqlite3_bind_parameter_index(st, name);
}

/* A name that the statement does not have binds to place 0, which SQLite refuses: the first error
 * stays in `*bad` until the statement is run. */
void bind_text(sqlite3_stmt *st, const char *name, const char *text, int *bad) {
    if (text == NULL)
        *bad |= sqlite3_bind_null(st, parameter(st, name));
    else
        *bad |= sqlite3_bind_text(st, parameter(st, name), text, -1, SQLITE_STATIC);
}

void bind_int(sqlite3_stmt *st, const char *name, int64_t value, int *bad) {
    *bad |= sqlite3_bind_int64(st, parameter(st, name), value);
}

void bind_key(sqlite3_stmt *st, int64_t key_id, int *bad) {
    if (key_id > 0)
        bind_int(st, ":key_id", key_id, bad);
}

void bind_blob(sqlite3_stmt *st, const char *name, const void *bytes, size_t len, int *bad) {
    *bad |= sqlite3_bind_blob64(st, parameter(st, name), len == 0 ? "" : bytes, len, SQLITE_STATIC);
}

int store_run(struct store *s, sqlite3_stmt *st, int bad) {
    if (st == NULL || bad != SQLITE_OK)
        return store_failed(s);
    int rc = sqlite3_step(st);
    int err = rc == SQLITE_DONE || rc == SQLITE_ROW ? ERR_OK : store_failed(s);
    (void)sqlite3_reset(st);
    (void)sqlite3_clear_bindings(st);
    return err;
}

char *store_column_copy(sqlite3_stmt *st, int column) {
    const unsigned char *text = sqlite3_column_text(st, column);
    return strdup(text == NULL ? "" : (const char *)text);
}

bool store_column_is(sqlite3_stmt *st, int column, const char *word) {
    const unsigned char *text = sqlite3_column_text(st, column);
    return text != NULL && strcmp((const char *)text, word) == 0;
}

bool store_next_row(struct store *s, sqlite3_stmt *st, int *err) {
    if (st == NULL) {
        *err = store_failed(s);
        return false;
    }
    if (*err == ERR_OK) {
        int rc = sqlite3_step(st);
        if (rc == SQLITE_ROW)
            return true;
        if (rc != SQLITE_DONE)
            *err = store_failed(s);
    }
    (void)sqlite3_reset(st);
    (void)sqlite3_clear_bindings(st);
    return false;
}

void *store_next_item(struct store *s, sqlite3_stmt *st, struct stored_list *list, int *err) {
    while (store_next_row(s, st, err)) {
        void *moved = array_reserve(list->items, &list->cap, list->used + 1, list->size);
        if (moved != NULL) {
            list->items = moved;
            return (char *)moved + list->size * list->used++;
        }
        *err = ERR_NOMEM; /* the statement is reset by the next call */
    }
    return NULL;
}
