/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "store/stored_keys.h"

static char folder[] = "/tmp/cairn-store-XXXXXX";
static char path[64];
static struct store *store;

static int open_new(void **state) {
    struct textbuf why = {0};
    (void)state;
    (void)unlink(path);
    int err = store_open(path, STORE_CREATE, &store, &why);
    textbuf_clear(&why);
    return err;
}

static int close_it(void **state) {
    (void)state;
    store_close(store);
    store = NULL;
    return 0;
}

/* Runs SQL on the file from outside, as somebody with a shell would. */
static int from_outside(const char *sql) {
    sqlite3 *db = NULL;
    int rc = sqlite3_open(path, &db);
    if (rc == SQLITE_OK)
        rc = sqlite3_exec(db, sql, NULL, NULL, NULL);
    (void)sqlite3_close(db);
    return rc;
}

static void add_upload(const char *kind, const char *body, int64_t *id) {
    assert_int_equal(store_begin(store), ERR_OK);
    assert_int_equal(
        store_add_upload(store, 1, "import", 0, kind, "text/plain", body, strlen(body), id),
        ERR_OK);
}

static void the_last_document_of_a_name_is_in_force(void **state) {
    int64_t id = 0;
    char *text = NULL;
    size_t len = 0;
    (void)state;
    assert_int_equal(store_document(store, "event.json", &text, &len), ERR_UNKNOWN);
    add_upload("event.json", "first", &id);
    assert_int_equal(store_add_document(store, "event.json", id), ERR_OK);
    assert_int_equal(store_commit(store), ERR_OK);
    add_upload("event.json", "second", &id);
    assert_int_equal(store_add_document(store, "event.json", id), ERR_OK);
    assert_int_equal(store_document(store, "event.json", &text, &len), ERR_OK);
    assert_string_equal(text, "second");
    free(text);
    store_rollback(store);
    assert_int_equal(store_document(store, "event.json", &text, &len), ERR_OK);
    assert_string_equal(text, "first");
    assert_int_equal(len, 5);
    free(text);
}

static void facts_cannot_be_changed_or_deleted(void **state) {
    int64_t id = 0;
    (void)state;
    add_upload("readings", "x", &id);
    assert_int_equal(store_commit(store), ERR_OK);
    assert_int_equal(from_outside("DELETE FROM upload"), SQLITE_CONSTRAINT);
    assert_int_equal(from_outside("UPDATE upload SET body = x''"), SQLITE_CONSTRAINT);
    assert_int_equal(from_outside("INSERT INTO notice (posted_ms, title, body, upload_id)"
                                  " VALUES (1, 't', '', 1)"),
                     SQLITE_OK);
    assert_int_equal(from_outside("UPDATE notice SET title = 'u'"), SQLITE_CONSTRAINT);
}

static void a_key_is_kept_by_its_hash_and_revoked_once(void **state) {
    unsigned char hash[32] = {1, 2, 3};
    struct stored_key *keys = NULL;
    size_t count = 0;
    int64_t id = 0;
    (void)state;
    assert_int_equal(store_begin(store), ERR_OK);
    assert_int_equal(store_add_key(store, hash, false, "TC1", "desk", 5, &id), ERR_OK);
    assert_int_equal(store_commit(store), ERR_OK);
    assert_int_equal(store_begin(store), ERR_OK);
    assert_int_equal(store_revoke_key(store, id, 6), ERR_OK);
    assert_int_equal(store_revoke_key(store, id, 7), ERR_UNKNOWN);
    assert_int_equal(store_revoke_key(store, id + 1, 7), ERR_UNKNOWN);
    assert_int_equal(store_commit(store), ERR_OK);
    assert_int_equal(store_keys(store, &keys, &count), ERR_OK);
    assert_int_equal(count, 1);
    assert_true(keys[0].revoked);
    assert_false(keys[0].organiser);
    assert_memory_equal(keys[0].hash, hash, sizeof hash);
    assert_string_equal(keys[0].points, "TC1");
    stored_keys_free(keys, count);
}

static void another_connection_shows_in_the_data_version(void **state) {
    int64_t before = 0;
    int64_t after = 0;
    (void)state;
    assert_int_equal(store_data_version(store, &before), ERR_OK);
    assert_int_equal(store_data_version(store, &after), ERR_OK);
    assert_int_equal(before, after);
    assert_int_equal(
        from_outside("INSERT INTO revision (office, public, committed_ms) VALUES (9, 7, 5)"),
        SQLITE_OK);
    assert_int_equal(store_data_version(store, &after), ERR_OK);
    assert_int_not_equal(before, after);
    assert_int_equal(
        from_outside("INSERT INTO revision (office, public, committed_ms) VALUES (10, 7, 6)"),
        SQLITE_OK);
    struct stored_revision last;
    assert_int_equal(store_last_revision(store, &last), ERR_OK);
    assert_int_equal(last.office, 10);
    assert_int_equal(last.public_number, 7);
    assert_int_equal(last.committed_ms, 6);
    assert_int_equal(last.public_ms, 5);
}

/* Opens the file again and tells why that fails. */
static int reopen(enum store_mode mode, struct textbuf *why) {
    store_close(store);
    store = NULL;
    textbuf_reset(why);
    return store_open(path, mode, &store, why);
}

static void foreign_and_newer_files_are_refused_with_words(void **state) {
    struct textbuf why = {0};
    (void)state;
    assert_int_equal(from_outside("PRAGMA user_version = 99"), SQLITE_OK);
    assert_int_equal(reopen(STORE_OPEN, &why), ERR_INPUT);
    assert_non_null(strstr(textbuf_text(&why), "newer version"));
    assert_int_equal(from_outside("PRAGMA user_version = 1; PRAGMA application_id = 7"), SQLITE_OK);
    assert_int_equal(reopen(STORE_OPEN, &why), ERR_INPUT);
    assert_non_null(strstr(textbuf_text(&why), "no event file"));
    (void)unlink(path);
    assert_int_equal(reopen(STORE_OPEN, &why), ERR_UNKNOWN);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    assert_true(fputs("this is a text and no database, whatever its name says ............"
                      "........................................................",
                      f) >= 0);
    assert_int_equal(fclose(f), 0);
    assert_int_equal(reopen(STORE_OPEN, &why), ERR_INPUT);
    textbuf_clear(&why);
}

static void a_copy_is_whole_and_never_over_a_file(void **state) {
    char copy[80];
    struct store *other = NULL;
    int64_t id = 0;
    (void)state;
    (void)snprintf(copy, sizeof copy, "%s.copy", path);
    add_upload("readings", "kept", &id);
    assert_int_equal(store_commit(store), ERR_OK);
    assert_int_equal(store_backup(store, copy, false), ERR_OK);
    assert_int_equal(store_backup(store, copy, false), ERR_CONFLICT);
    assert_int_equal(store_open(copy, STORE_OPEN, &other, NULL), ERR_OK);
    store_close(other);
    assert_int_equal(unlink(copy), 0);
}

static int make_folder(void **state) {
    (void)state;
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/e.cairn", folder);
    return 0;
}

static int remove_folder(void **state) {
    static const char *const ends[] = {"",          "-wal",      "-shm",      "-lock",
                                       ".copy-wal", ".copy-shm", ".copy-lock"};
    (void)state;
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        char name[96];
        (void)snprintf(name, sizeof name, "%s%s", path, ends[i]);
        (void)unlink(name);
    }
    return rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_last_document_of_a_name_is_in_force, open_new,
                                        close_it),
        cmocka_unit_test_setup_teardown(facts_cannot_be_changed_or_deleted, open_new, close_it),
        cmocka_unit_test_setup_teardown(a_key_is_kept_by_its_hash_and_revoked_once, open_new,
                                        close_it),
        cmocka_unit_test_setup_teardown(another_connection_shows_in_the_data_version, open_new,
                                        close_it),
        cmocka_unit_test_setup_teardown(foreign_and_newer_files_are_refused_with_words, open_new,
                                        close_it),
        cmocka_unit_test_setup_teardown(a_copy_is_whole_and_never_over_a_file, open_new, close_it),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
