/* SPDX-License-Identifier: MIT */
#include "served.h"

#include <pthread.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/arena.h"
#include "base/err.h"
#include "event_text.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "store/stored_keys.h"
#include "testing.h"

static const char rules[] =
    "{'name': 'Skerry Run', 'slug': 'skerry', 'timezone': 'Atlantic/Azores', 'unit': 'km', "
    "'days': [{'date': '2031-06-06', 'first_start': '08:01', 'interval': '00:01:00'}], "
    "'classes': {'scheme': 'fiva'}, "
    "'scoring': {'defaults': {'passage-control': {'missed': 300}}}, 'route': [{'day': 1, "
    "'id': 'PC1', 'kind': 'passage-control', 'name': 'Fulmar Bridge'}, {'day': 1, "
    "'id': 'PC2', 'kind': 'passage-control', 'name': 'Old Quay'}]}";
static const char entries[] = "number,driver,navigator,make,model,year\n"
                              "1,A. Thorne,,Calder,Six,1929\n"
                              "2,B. Rook,,Thornbeck,Ten,1934\n";

static void add_document(struct store *store, const char *name, const char *text) {
    int64_t upload = 0;
    assert_int_equal(
        store_add_upload(store, 1, "import", 0, name, "text/plain", text, strlen(text), &upload),
        ERR_OK);
    assert_int_equal(store_add_document(store, name, upload), ERR_OK);
}

void served_make(struct served *served) {
    struct store *store = NULL;
    int64_t id = 0;
    char *text = quoted(rules);
    assert_true(sodium_init() >= 0);
    (void)strcpy(served->folder, "/tmp/cairn-served-XXXXXX");
    assert_non_null(mkdtemp(served->folder));
    (void)snprintf(served->path, sizeof served->path, "%s/" SERVED_SLUG ".cairn", served->folder);
    assert_int_equal(store_open(served->path, STORE_CREATE, &store, NULL), ERR_OK);
    key_make(served->key);
    key_hash(served->key, served->hash);
    assert_int_equal(store_begin(store), ERR_OK);
    add_document(store, "event.json", text);
    add_document(store, "entries.csv", entries);
    assert_int_equal(store_add_revision(store, 1, 1, 1), ERR_OK);
    assert_int_equal(store_add_key(store, served->hash, true, "", "", 1, &id), ERR_OK);
    assert_int_equal(store_commit(store), ERR_OK);
    store_close(store);
    free(text);
}

void served_remove_file(const char *path) {
    static const char *const ends[] = {"", "-wal", "-shm", "-lock"};
    for (size_t i = 0; i < COUNT_OF(ends); i++) {
        char name[128];
        (void)snprintf(name, sizeof name, "%s%s", path, ends[i]);
        (void)unlink(name);
    }
}

void served_remove(struct served *served) {
    served_remove_file(served->path);
    assert_int_equal(rmdir(served->folder), 0);
}

void served_ask(const struct served *served, struct served_event *event, struct write *head) {
    assert_non_null(head);
    head->served = event;
    memcpy(head->key_hash, served->hash, sizeof served->hash);
}

static struct rows_write *fill(const struct served *served, struct served_event *event,
                               struct rows_write *write, const char *rows, const char *const *names,
                               size_t count) {
    struct textbuf why = {0};
    char *text = quoted(rows);
    size_t len = strlen(text);
    served_ask(served, event, &write->head);
    if (upload_parse(MEDIA_JSON, text, len, names, count, 0, NULL, &write->rows, &why) != ERR_OK)
        fail_msg("%s", textbuf_text(&why));
    write->body =
        (struct write_body){"application/json", arena_text(write->rows.arena, text, len), len};
    free(text);
    textbuf_clear(&why);
    return write;
}

struct rows_write *served_readings(const struct served *served, struct served_event *event,
                                   const char *rows) {
    return fill(served, event, readings_write_new(), rows, reading_field_names,
                READING_FIELD_COUNT);
}

struct rows_write *served_decisions(const struct served *served, struct served_event *event,
                                    const char *rows) {
    return fill(served, event, decisions_write_new(), rows, decision_field_names,
                DECISION_FIELD_COUNT);
}

/* Where one waits for a write. */
struct wait {
    pthread_mutex_t lock;
    pthread_cond_t wake;
    bool done;
};

static void done(struct write *head) {
    struct wait *wait = head->context;
    (void)pthread_mutex_lock(&wait->lock);
    wait->done = true;
    (void)pthread_cond_signal(&wait->wake);
    (void)pthread_mutex_unlock(&wait->lock);
}

void served_write(struct write *head) {
    struct wait wait = {PTHREAD_MUTEX_INITIALIZER, PTHREAD_COND_INITIALIZER, false};
    head->done = done;
    head->context = &wait;
    assert_int_equal(write_submit(head), ERR_OK);
    (void)pthread_mutex_lock(&wait.lock);
    while (!wait.done)
        (void)pthread_cond_wait(&wait.wake, &wait.lock);
    (void)pthread_mutex_unlock(&wait.lock);
}
