/* SPDX-License-Identifier: MIT */
#include "commands/desk_key.h"

#include <stdbool.h>
#include <stdio.h>

#include "base/err.h"
#include "commands/event_file.h"
#include "store/store.h"
#include "system/system_clock.h"

/* Tells of a point that is none. Returns an exit code. */
static int refuse_point(const char *point) {
    (void)fprintf(stderr, "cairn: point “%s” is not on the route\n", point);
    return EXIT_INPUT;
}

/* Tells what the store found. Returns the exit code of `err`. */
static int told(struct store *store, int err) {
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s\n", store_message(store));
    return exit_code(err);
}

static int add(struct store *store, const char *point, char text[KEY_TEXT_LEN + 1], int64_t *id) {
    unsigned char hash[32];
    struct textbuf label = {0};
    textbuf_printf(&label, "Paper for %s", point);
    key_make(text);
    key_hash(text, hash);
    int err = label.failed ? ERR_NOMEM : store_begin(store);
    if (err == ERR_OK)
        err = store_add_key(store, hash, false, point, textbuf_text(&label), now_ms(), id);
    if (err == ERR_OK)
        err = store_commit(store);
    textbuf_clear(&label);
    return err;
}

int desk_key_make(const char *data_dir, const char *slug, const char *point,
                  char text[KEY_TEXT_LEN + 1], int64_t *id) {
    struct store *store = NULL;
    struct model *model = NULL;
    int err = event_file_open(data_dir, slug, false, &store);
    if (err != ERR_OK)
        return exit_code(err);
    int code = told(store, store_load_event(store, &model));
    if (code == EXIT_GOOD && strmap_get(&model->rules->point_by_id, point) < 0)
        code = refuse_point(point);
    if (code == EXIT_GOOD)
        code = told(store, add(store, point, text, id));
    model_free(model);
    store_close(store);
    return code;
}

int desk_key_revoke(const char *data_dir, const char *slug, int64_t id) {
    struct store *store = NULL;
    int err = event_file_open(data_dir, slug, false, &store);
    if (err != ERR_OK)
        return exit_code(err);
    err = store_begin(store);
    if (err == ERR_OK)
        err = store_revoke_key(store, id, now_ms());
    if (err == ERR_OK)
        err = store_commit(store);
    int code = told(store, err);
    store_close(store);
    return code;
}

int desk_key_check(const char *data_dir, const char *slug, const char *point, const char *text) {
    struct store *store = NULL;
    struct model *model = NULL;
    struct stored_key *keys = NULL;
    size_t count = 0;
    unsigned char hash[32];
    int err = event_file_open(data_dir, slug, true, &store);
    if (err != ERR_OK)
        return exit_code(err);
    err = store_load_event(store, &model);
    if (err == ERR_OK)
        err = store_keys(store, &keys, &count);
    int code = told(store, err);
    int at = code == EXIT_GOOD ? strmap_get(&model->rules->point_by_id, point) : -1;
    if (code == EXIT_GOOD && at < 0) {
        code = refuse_point(point);
    } else if (code == EXIT_GOOD) {
        key_hash(text, hash);
        int key = keys == NULL ? -1 : key_find(keys, count, hash);
        if (key < 0 || keys[key].organiser || !key_covers(keys[key].points, model->rules, at)) {
            (void)fprintf(stderr, "cairn: that is no timekeeper's key in force for %s\n", point);
            code = EXIT_INPUT;
        }
    }
    stored_keys_free(keys, count);
    model_free(model);
    store_close(store);
    return code;
}
