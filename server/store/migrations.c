/* SPDX-License-Identifier: MIT */
/* The schema's versions: whose file it is, and bringing it to the newest. */
#include <sodium.h>

#include "base/err.h"
#include "store/crew_code.h"
#include "store/store_chain.h"
#include "store/store_private.h"
#include "system/assets.h"
#include "system/system_clock.h"

/* STORE_APPLICATION_ID: a pragma takes no bound value. */
static int write_application_id(struct store *s) {
    return store_execute(s, "PRAGMA application_id = 0x63616972;");
}

/* Not by store_add_code_secret: the chain is of a later migration, which gives the secret its link.
 */
static int make_first_secret(struct store *s) {
    static const char text[] = "INSERT INTO code_secret (made_ms, secret) VALUES (:made_ms,"
                               " :secret)";
    unsigned char secret[CODE_SECRET_LEN];
    sqlite3_stmt *st = NULL;
    int bad = sqlite3_prepare_v2(s->db, text, -1, &st, NULL);
    randombytes_buf(secret, sizeof secret);
    bind_int(st, ":made_ms", now_ms(), &bad);
    bind_blob(st, ":secret", secret, sizeof secret, &bad);
    int err = store_run(s, st, bad);
    (void)sqlite3_finalize(st);
    sodium_memzero(secret, sizeof secret);
    return err;
}

/* One step to the next version. */
struct migration {
    const char *schema;               /* name of the asset with its SQL */
    int (*fill)(struct store *store); /* what SQL alone cannot do; NULL for nothing */
    const char *write_version;        /* the file's version afterwards, as a statement */
};
#define MIGRATION(version, schema, fill)                                                           \
    { "schema/" schema ".sql", fill, "PRAGMA user_version = " #version ";" }

/* Their order never changes; the number of each is its place, from 1. */
static const struct migration migrations[] = {
    MIGRATION(1, "001_facts", write_application_id), MIGRATION(2, "002_notices", NULL),
    MIGRATION(3, "003_codes", make_first_secret),    MIGRATION(4, "004_acknowledgements", NULL),
    MIGRATION(5, "005_chain", store_chain_all),
};
enum { MIGRATION_COUNT = sizeof migrations / sizeof migrations[0] };

int64_t store_newest_version(void) {
    return MIGRATION_COUNT;
}

static int pragma_number(struct store *s, const char *sql, int64_t *out) {
    sqlite3_stmt *st = NULL;
    int err = ERR_OK;
    if (sqlite3_prepare_v2(s->db, sql, -1, &st, NULL) != SQLITE_OK ||
        sqlite3_step(st) != SQLITE_ROW)
        err = store_failed(s);
    else
        *out = sqlite3_column_int64(st, 0);
    (void)sqlite3_finalize(st);
    return err;
}

/* Before anything is written: a file that is not ours is left as it is. */
int store_recognise(struct store *s, bool may_be_new, int64_t *version) {
    int64_t application = 0;
    int64_t tables = 0;
    int err = pragma_number(s, "PRAGMA user_version", version);
    if (err == ERR_OK)
        err = pragma_number(s, "PRAGMA application_id", &application);
    if (err == ERR_OK)
        err = pragma_number(s, "SELECT count(*) FROM sqlite_schema", &tables);
    if (err != ERR_OK)
        return err;
    if (application != STORE_APPLICATION_ID && (tables > 0 || !may_be_new))
        return store_fail_with(s, ERR_INPUT, "this is no event file");
    if (*version > MIGRATION_COUNT)
        return store_fail_with(s, ERR_INPUT,
                               "the event file was made by a newer version of the program");
    return ERR_OK;
}

int store_write_version(struct store *s) {
    return store_execute(s, migrations[MIGRATION_COUNT - 1].write_version);
}

/* Each migration and its number are one transaction: a file is never between two versions. */
static int migrate_once(struct store *s, const struct migration *m) {
    int err = store_execute(s, "BEGIN IMMEDIATE");
    if (err == ERR_OK)
        err = store_execute(s, asset_find(m->schema)->bytes);
    if (err == ERR_OK && m->fill != NULL)
        err = m->fill(s);
    if (err == ERR_OK)
        err = store_execute(s, m->write_version);
    if (err == ERR_OK)
        err = store_execute(s, "COMMIT");
    if (err != ERR_OK)
        (void)sqlite3_exec(s->db, "ROLLBACK", NULL, NULL, NULL);
    return err;
}

int store_migrate(struct store *s, int64_t version) {
    int err = ERR_OK;
    for (int64_t v = version; err == ERR_OK && v < MIGRATION_COUNT; v++)
        err = migrate_once(s, &migrations[v]);
    return err;
}
