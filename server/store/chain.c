/* SPDX-License-Identifier: MIT */
/* The chain of hashes over facts: made with each row, and verified. */
#include "store/store_chain.h"

#include <sodium.h>
#include <string.h>

#include "base/err.h"

/* A value that goes into a link. */
struct cell {
    int type; /* of the storage engine */
    int64_t number;
    const void *bytes;
    int len;
};

typedef crypto_generichash_state hash_state;

static void hash_number(hash_state *h, unsigned char tag, uint64_t number) {
    unsigned char bytes[9] = {tag};
    for (int i = 1; i < 9; i++, number >>= 8)
        bytes[i] = (unsigned char)number;
    (void)crypto_generichash_update(h, bytes, sizeof bytes);
}

static void hash_cell(hash_state *h, const struct cell *cell) {
    bool number = cell->type == SQLITE_INTEGER;
    hash_number(h, (unsigned char)cell->type,
                (uint64_t)(number ? cell->number : (int64_t)cell->len));
    if (!number && cell->len > 0)
        (void)crypto_generichash_update(h, cell->bytes, (unsigned long long)cell->len);
}

static void hash_begin(hash_state *h, const char *table, const void *before, int len) {
    const struct cell name = {SQLITE_TEXT, 0, table, (int)strlen(table)};
    const struct cell link = {len > 0 ? SQLITE_BLOB : SQLITE_NULL, 0, before, len};
    (void)crypto_generichash_init(h, NULL, 0, LINK_LEN);
    hash_cell(h, &name);
    hash_cell(h, &link);
}

static void note_end(struct store *s, const char *table, int64_t key,
                     const unsigned char link[LINK_LEN]);

/* chained(table, link before, key, values...) */
static void chained(sqlite3_context *context, int count, sqlite3_value **values) {
    unsigned char link[LINK_LEN];
    hash_state h;
    if (count < 2)
        return;
    hash_begin(&h, (const char *)sqlite3_value_text(values[0]), sqlite3_value_blob(values[1]),
               sqlite3_value_bytes(values[1]));
    for (int i = 2; i < count; i++) {
        struct cell cell = {.type = sqlite3_value_type(values[i])};
        if (cell.type == SQLITE_INTEGER) {
            cell.number = sqlite3_value_int64(values[i]);
        } else if (cell.type != SQLITE_NULL) {
            cell.bytes = sqlite3_value_blob(values[i]);
            cell.len = sqlite3_value_bytes(values[i]);
        }
        hash_cell(&h, &cell);
    }
    (void)crypto_generichash_final(&h, link, sizeof link);
    if (count > 2)
        note_end(sqlite3_user_data(context), (const char *)sqlite3_value_text(values[0]),
                 sqlite3_value_int64(values[2]), link);
    sqlite3_result_blob(context, link, sizeof link, SQLITE_TRANSIENT);
}

int store_chain_init(struct store *s) {
    return sqlite3_create_function_v2(s->db, "chained", -1,
                                      SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_DIRECTONLY, s,
                                      chained, NULL, NULL, NULL) == SQLITE_OK
               ? ERR_OK
               : ERR_NOMEM;
}

/* A table whose rows carry links.
 *   name_at  the column with the id that people know a fact by, counted as in `rows`; -1 for none
 *   linked   each row's link is made from the one before
 *   next     the row after a key, to be given its link; `set` gives it
 *   rows     key, columns and link of each row, in order of the key
 *   last, of the last key and its link; the link of a key */
struct chained_table {
    const char *name;
    int name_at;
    bool linked;
    const char *next, *set, *rows, *last, *of;
};
#define TABLE(name, key, columns, name_at, linked)                                                 \
    {                                                                                              \
        name, name_at, linked,                                                                     \
            "SELECT " key ", " columns " FROM " name " WHERE " key " > :after ORDER BY " key       \
            " LIMIT 1",                                                                            \
            "UPDATE " name " SET chain = :chain WHERE " key " = :key",                             \
            "SELECT " key ", " columns ", chain FROM " name " ORDER BY " key,                      \
            "SELECT " key ", chain FROM " name " ORDER BY " key " DESC LIMIT 1",                   \
            "SELECT " key ", chain FROM " name " WHERE " key " = :key"                             \
    }

/* Uploads stand last: their bodies are most of a file. */
static const struct chained_table tables[] = {
    TABLE("reading", "seq", READING_COLUMNS, 1, true),
    TABLE("decision", "seq", DECISION_COLUMNS, 1, true),
    TABLE("document", "id", DOCUMENT_COLUMNS, 1, true),
    TABLE("key", "id", KEY_COLUMNS, 4, true),
    TABLE("key_revocation", "key_id", REVOCATION_COLUMNS, -1, false),
    TABLE("notice", "id", NOTICE_COLUMNS, -1, true),
    TABLE("enquiry", "id", ENQUIRY_COLUMNS, -1, true),
    TABLE("enquiry_answer", "enquiry_id", ANSWER_COLUMNS, -1, false),
    TABLE("code_secret", "id", SECRET_COLUMNS, -1, true),
    TABLE("code_renewal", "id", RENEWAL_COLUMNS, -1, true),
    TABLE("refusal", "id", REFUSAL_COLUMNS, 9, true),
    TABLE("acknowledgement", "id", ACKNOWLEDGEMENT_COLUMNS, 3, true),
    TABLE("change_note", "upload_id", NOTE_COLUMNS, -1, false),
    TABLE("epoch", "id", EPOCH_COLUMNS, -1, true),
    TABLE("revision", "office", REVISION_COLUMNS, -1, true),
    TABLE("upload", "id", UPLOAD_COLUMNS, -1, true),
};
enum { TABLE_COUNT = sizeof tables / sizeof tables[0] };
_Static_assert((int)TABLE_COUNT == (int)FACT_TABLES, "a store knows the end of each table");

static void note_end(struct store *s, const char *table, int64_t key,
                     const unsigned char link[LINK_LEN]) {
    for (int i = 0; i < TABLE_COUNT; i++) {
        if (strcmp(tables[i].name, table) == 0) {
            s->pending[i].there = true;
            s->pending[i].key = key;
            memcpy(s->pending[i].link, link, LINK_LEN);
        }
    }
}

/* The one row of a statement as a table's end; `there` is false where there is none. */
static int read_end(struct store *s, const char *sql, const int64_t *key, struct fact_end *out) {
    sqlite3_stmt *st = NULL;
    int bad = 0;
    *out = (struct fact_end){0};
    int rc = sqlite3_prepare_v2(s->db, sql, -1, &st, NULL);
    if (rc == SQLITE_OK && key != NULL)
        bind_int(st, ":key", *key, &bad);
    if (rc == SQLITE_OK)
        rc = bad == 0 ? sqlite3_step(st) : SQLITE_ERROR;
    if (rc == SQLITE_ROW) {
        out->there = true;
        out->key = sqlite3_column_int64(st, 0);
        if (sqlite3_column_bytes(st, 1) == LINK_LEN)
            memcpy(out->link, sqlite3_column_blob(st, 1), LINK_LEN);
    }
    int err = rc == SQLITE_ROW || rc == SQLITE_DONE ? ERR_OK : store_failed(s);
    (void)sqlite3_finalize(st);
    return err;
}

int store_note_ends(struct store *s) {
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && i < TABLE_COUNT; i++)
        err = read_end(s, tables[i].last, NULL, &s->ends[i]);
    memcpy(s->pending, s->ends, sizeof s->pending);
    return err;
}

int store_chain_reaches(struct store *s, const struct fact_end ends[FACT_TABLES], bool *reaches) {
    int err = ERR_OK;
    *reaches = true;
    for (int i = 0; err == ERR_OK && *reaches && i < TABLE_COUNT; i++) {
        struct fact_end found;
        if (!ends[i].there)
            continue;
        err = read_end(s, tables[i].of, &ends[i].key, &found);
        *reaches = found.there && memcmp(found.link, ends[i].link, LINK_LEN) == 0;
    }
    return err;
}

static struct cell column_cell(sqlite3_stmt *st, int column) {
    struct cell cell = {.type = sqlite3_column_type(st, column)};
    if (cell.type == SQLITE_INTEGER) {
        cell.number = sqlite3_column_int64(st, column);
    } else if (cell.type != SQLITE_NULL) {
        cell.bytes = sqlite3_column_blob(st, column);
        cell.len = sqlite3_column_bytes(st, column);
    }
    return cell;
}

/* The link of the row that a statement stands on, made of its first `columns` columns. */
static void link_of(const char *table, const unsigned char *before, int before_len,
                    sqlite3_stmt *st, int columns, unsigned char link[LINK_LEN]) {
    hash_state h;
    hash_begin(&h, table, before, before_len);
    for (int i = 0; i < columns; i++) {
        const struct cell cell = column_cell(st, i);
        hash_cell(&h, &cell);
    }
    (void)crypto_generichash_final(&h, link, LINK_LEN);
}

/* One row at a time, so that no query runs on a table while it is changed. */
static int chain_table(struct store *s, const struct chained_table *t) {
    sqlite3_stmt *next = NULL;
    sqlite3_stmt *set = NULL;
    unsigned char link[LINK_LEN];
    int before = 0;
    int64_t after = INT64_MIN;
    int err = sqlite3_prepare_v2(s->db, t->next, -1, &next, NULL) == SQLITE_OK &&
                      sqlite3_prepare_v2(s->db, t->set, -1, &set, NULL) == SQLITE_OK
                  ? ERR_OK
                  : store_failed(s);
    for (bool more = err == ERR_OK; more && err == ERR_OK;) {
        int bad = 0;
        bind_int(next, ":after", after, &bad);
        int rc = bad == 0 ? sqlite3_step(next) : SQLITE_ERROR;
        more = rc == SQLITE_ROW;
        if (!more) {
            err = rc == SQLITE_DONE ? ERR_OK : store_failed(s);
            break;
        }
        after = sqlite3_column_int64(next, 0);
        link_of(t->name, link, t->linked ? before : 0, next, sqlite3_column_count(next), link);
        before = LINK_LEN;
        (void)sqlite3_reset(next);
        bind_blob(set, ":chain", link, sizeof link, &bad);
        bind_int(set, ":key", after, &bad);
        err = store_run(s, set, bad);
    }
    (void)sqlite3_finalize(next);
    (void)sqlite3_finalize(set);
    return err;
}

static bool is_there(struct store *s, const struct chained_table *t) {
    return sqlite3_table_column_metadata(s->db, NULL, t->name, NULL, NULL, NULL, NULL, NULL,
                                         NULL) == SQLITE_OK;
}

int store_chain_all(struct store *s) {
    static const char heads[] =
        "UPDATE revision SET heads = " HEADS " WHERE office = (SELECT max(office) FROM revision)";
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && i < TABLE_COUNT; i++) {
        if (strcmp(tables[i].name, "revision") == 0 &&
            sqlite3_exec(s->db, heads, NULL, NULL, NULL) != SQLITE_OK)
            return store_failed(s);
        /* Tables of later migrations are not there yet: their rows are linked as they are added. */
        if (is_there(s, &tables[i]))
            err = chain_table(s, &tables[i]);
    }
    return err;
}

/* Checks the row that a statement stands on against its link, which is the last column.
 *   before, len  the link of the row before as it is stored; gets this row's */
static void check_row(struct store *s, const struct chained_table *t, sqlite3_stmt *st,
                      unsigned char before[LINK_LEN], int *len) {
    int columns = sqlite3_column_count(st) - 1;
    int64_t row = sqlite3_column_int64(st, 0);
    unsigned char link[LINK_LEN];
    const void *stored = sqlite3_column_blob(st, columns);
    int stored_len = sqlite3_column_bytes(st, columns);
    link_of(t->name, before, t->linked ? *len : 0, st, columns, link);
    if (stored_len == LINK_LEN && memcmp(stored, link, LINK_LEN) == 0) {
        memcpy(before, link, LINK_LEN);
        *len = LINK_LEN;
        return;
    }
    const char *id = t->name_at < 0 ? "" : (const char *)sqlite3_column_text(st, t->name_at);
    damaged_facts_add(&s->altered, t->name, row, id,
                      stored_len == 0
                          ? "it was not put in by cairn"
                          : "it is not as it was taken, or the row before it is missing");
    *len = stored_len < LINK_LEN ? stored_len : LINK_LEN;
    if (*len > 0)
        memcpy(before, sqlite3_column_blob(st, columns), (size_t)*len);
}

/* A table that cannot be read to its end is reported, and the others are verified all the same. */
static int engine_failed(struct store *s, const char *table) {
    int err = store_failed(s);
    if (err != ERR_INPUT)
        return err;
    damaged_facts_add(&s->altered, table, 0, "", store_message(s));
    return ERR_OK;
}

static int verify_table(struct store *s, const struct chained_table *t) {
    sqlite3_stmt *st = NULL;
    unsigned char before[LINK_LEN];
    int len = 0;
    int rc = sqlite3_prepare_v2(s->db, t->rows, -1, &st, NULL);
    if (rc == SQLITE_OK) {
        while ((rc = sqlite3_step(st)) == SQLITE_ROW)
            check_row(s, t, st, before, &len);
    }
    int err = rc == SQLITE_DONE ? ERR_OK : engine_failed(s, t->name);
    (void)sqlite3_finalize(st);
    return err;
}

/* The last revision holds the last links of what was there when it was made. */
static int verify_heads(struct store *s) {
    static const char question[] =
        "SELECT office, heads IS " HEADS " FROM revision ORDER BY office DESC LIMIT 1";
    sqlite3_stmt *st = NULL;
    int rc = sqlite3_prepare_v2(s->db, question, -1, &st, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_step(st);
    if (rc == SQLITE_ROW && sqlite3_column_int(st, 1) == 0)
        damaged_facts_add(&s->altered, "revision", sqlite3_column_int64(st, 0), "",
                          "readings, decisions or documents at its end are missing, or are others");
    int err = rc == SQLITE_ROW || rc == SQLITE_DONE ? ERR_OK : engine_failed(s, "revision");
    (void)sqlite3_finalize(st);
    return err;
}

int store_check_pages(sqlite3 *db, struct damaged_facts *damage) {
    sqlite3_stmt *st = NULL;
    int rc = sqlite3_prepare_v2(db, "PRAGMA integrity_check(20)", -1, &st, NULL);
    while (rc == SQLITE_OK && (rc = sqlite3_step(st)) == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(st, 0);
        rc = SQLITE_OK;
        if (text != NULL && strcmp(text, "ok") != 0)
            damaged_facts_add(damage, "file", 0, "", text);
    }
    /* The statement itself is right: an error in it is one in the schema. */
    if (rc == SQLITE_CORRUPT || rc == SQLITE_NOTADB || rc == SQLITE_ERROR) {
        damaged_facts_add(damage, "file", 0, "", sqlite3_errmsg(db));
        rc = SQLITE_DONE;
    }
    (void)sqlite3_finalize(st);
    return rc;
}

int store_verify(struct store *s) {
    damaged_facts_clear(&s->altered);
    bool begun = store_read_begin(s);
    int err = store_check_pages(s->db, &s->altered) == SQLITE_DONE ? ERR_OK : store_failed(s);
    for (int i = 0; err == ERR_OK && i < TABLE_COUNT; i++)
        err = verify_table(s, &tables[i]);
    if (err == ERR_OK)
        err = verify_heads(s);
    store_read_end(s, begun);
    return err;
}

const struct damaged_facts *store_altered(const struct store *s) {
    return &s->altered;
}

const struct damaged_facts *store_unreadable(const struct store *s) {
    return &s->unreadable;
}
