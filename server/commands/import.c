/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/err.h"
#include "base/problem.h"
#include "commands/command_import.h"
#include "commands/commands.h"
#include "scoring/view.h"
#include "store/store.h"
#include "system/data_dir.h"
#include "system/event_folder.h"
#include "system/problem_lines.h"
#include "system/system_clock.h"

static const char about[] =
    "cairn import DATA_DIR FOLDER\n"
    "\n"
    "Makes the event file DATA_DIR/SLUG.cairn from an event folder, or brings an existing one up\n"
    "to the folder: event.json, entries and start times are taken over, readings and decisions\n"
    "are added and never taken away. Refused readings are reported and left out.\n"
    "\n"
    "Exit status: 0; 2 for bad input, and then nothing was changed; 1 for a failure of the\n"
    "machine.\n";

/* Keeps a file as an upload, and as the document in force where it differs from what is. */
static int import_document(struct store *store, const char *name, const struct file_text *file,
                           bool *changed) {
    char *old = NULL;
    size_t old_len = 0;
    int64_t upload = 0;
    int err = store_document(store, name, &old, &old_len);
    bool same = file->text == NULL ? err == ERR_UNKNOWN || old_len == 0
                                   : err == ERR_OK && old_len == file->len &&
                                         memcmp(old, file->text, old_len) == 0;
    free(old);
    if (err != ERR_OK && err != ERR_UNKNOWN)
        return err;
    if (same)
        return ERR_OK;
    *changed = true;
    err = store_add_upload(store, now_ms(), "import", 0, name, "text/plain",
                           file->text == NULL ? "" : file->text, file->len, &upload);
    return err != ERR_OK ? err : store_add_document(store, name, upload);
}

/* What an import adds. */
struct added {
    bool anything;
    bool public_change; /* the public can see something of it */
};

/* Whether the public can see something of a new fact. Where the item is open to all in the event
 * as it was, or the fact may open one, it can. */
static bool shows(const struct view *view, const struct model *folder, const struct reading *r,
                  const struct decision *d) {
    if (view == NULL)
        return true;
    if (r != NULL)
        return view_shows_reading(view, folder, r);
    return d->kind == DECIDE_CLOSE || d->kind == DECIDE_REVOKE ||
           view_shows_decision(view, folder, d);
}

static void blame(struct problems *problems, const char *file, long line, struct textbuf *reason) {
    problems_add(problems, PROBLEM_ERROR, file, line, "%s", textbuf_text(reason));
    textbuf_reset(reason);
}

/* Adds what the folder has and the file has not. An id that is there with other content is bad
 * input: nothing is taken then. */
static int import_facts(struct store *store, const struct model *folder, const struct model *there,
                        const struct view *view, const struct event_files *files,
                        struct problems *problems, struct added *added) {
    struct textbuf reason = {0};
    int64_t upload = 0;
    int err = ERR_OK;
    if (files->readings.text != NULL)
        err = store_add_upload(store, now_ms(), "import", 0, "readings", "text/csv",
                               files->readings.text, files->readings.len, &upload);
    for (int i = 0; err == ERR_OK && i < readings_count(folder->readings); i++) {
        const struct reading *r = readings_at(folder->readings, i);
        int old = there == NULL ? -1 : readings_find(there->readings, r->id);
        if (old < 0) {
            err = store_add_reading(store, r, upload);
            added->anything = true;
            added->public_change = added->public_change || shows(view, folder, r, NULL);
        } else if (readings_try(there->readings, &r->text, &reason) == READING_REFUSED) {
            blame(problems, "readings.csv", 0, &reason);
        }
    }
    if (err == ERR_OK && files->decisions.text != NULL)
        err = store_add_upload(store, now_ms(), "import", 0, "decisions", "text/csv",
                               files->decisions.text, files->decisions.len, &upload);
    for (int i = 0; err == ERR_OK && i < decisions_count(folder->decisions); i++) {
        const struct decision *d = decisions_at(folder->decisions, i);
        int old = there == NULL ? -1 : decisions_find(there->decisions, d->id);
        if (old < 0) {
            err = store_add_decision(store, d, upload);
            added->anything = true;
            added->public_change = added->public_change || shows(view, folder, NULL, d);
        } else if (decisions_try(there->decisions, &d->text, &reason) == DECISION_REFUSED) {
            blame(problems, "decisions.csv", d->line, &reason);
        }
    }
    textbuf_clear(&reason);
    return err == ERR_OK && problems_fatal(problems) ? ERR_INPUT : err;
}

/* Every fact that is there must still have its place under the folder's documents. */
static void check_facts(const struct model *folder, const struct model *there,
                        struct problems *problems) {
    struct textbuf reason = {0};
    for (int i = 0; there != NULL && i < readings_count(there->readings); i++) {
        const struct reading *r = readings_at(there->readings, i);
        if (readings_find(folder->readings, r->id) < 0 &&
            readings_try(folder->readings, &r->text, &reason) == READING_REFUSED)
            blame(problems, "event file: a reading that is there would lose its place", 0, &reason);
    }
    for (int i = 0; there != NULL && i < decisions_count(there->decisions); i++) {
        const struct decision *d = decisions_at(there->decisions, i);
        if (decisions_find(folder->decisions, d->id) < 0 &&
            decisions_try(folder->decisions, &d->text, &reason) == DECISION_REFUSED)
            blame(problems, "event file: a decision that is there would lose its place", 0,
                  &reason);
    }
    textbuf_clear(&reason);
}

/* The next revision. A follower's is that of the server it follows, so that both name the same by
 * the same number, unless ours is past it. */
static int add_revision(struct store *store, const struct stored_revision *last, bool public_change,
                        const struct import_begun *begun) {
    if (begun->office > last->office && begun->public_number >= last->public_number)
        return store_add_revision(store, begun->office, begun->public_number, now_ms());
    return store_add_revision(store, last->office + 1,
                              last->public_number + (public_change ? 1 : 0), now_ms());
}

int import_event(struct store *store, const struct model *folder, const struct model *there,
                 const struct event_files *files, const struct import_begun *begun,
                 struct problems *problems) {
    const struct import_begun nothing = {0};
    begun = begun == NULL ? &nothing : begun;
    struct added added = {.anything = begun->anything};
    struct stored_revision last;
    struct view *view = NULL;
    struct view_request request = {.live = true, .public_view = true, .after = -1};
    int err = there == NULL ? ERR_OK : view_new(&there->event, request, &view);
    check_facts(folder, there, problems);
    if (err == ERR_OK && problems_fatal(problems))
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = import_document(store, "event.json", &files->rules, &added.anything);
    if (err == ERR_OK)
        err = import_document(store, "entries.csv", &files->entries, &added.anything);
    if (err == ERR_OK)
        err = import_document(store, "starts.csv", &files->starts, &added.anything);
    /* Points keep their places only while the documents stay the same. */
    added.public_change = added.anything;
    if (err == ERR_OK)
        err = import_facts(store, folder, there, added.anything ? NULL : view, files, problems,
                           &added);
    if (err == ERR_OK)
        err = store_last_revision(store, &last);
    if (err == ERR_OK && added.anything)
        err = add_revision(store, &last, added.public_change, begun);
    view_free(view);
    if (err == ERR_OK && added.anything)
        return store_commit(store);
    store_rollback(store);
    return err;
}

/* Nobody can write to an event over HTTP before there is a key; it is easily forgotten. */
static bool has_no_key(struct store *store) {
    struct stored_key *keys = NULL;
    size_t count = 0;
    if (store_keys(store, &keys, &count) != ERR_OK)
        return false;
    stored_keys_free(keys, count);
    return count == 0;
}

static int import_folder(const char *data_dir, const char *path) {
    struct problems problems = {0};
    struct event_folder folder = {0};
    struct model *model = NULL;
    struct model *there = NULL;
    struct store *store = NULL;
    struct textbuf why = {0};
    char *file = NULL;
    int err = event_folder_read(path, &problems, &folder);
    if (err == ERR_OK)
        err = model_read(&folder.files, &problems, &model);
    if (err != ERR_OK)
        goto done;
    file = data_dir_path(data_dir, model->rules->slug);
    if (file == NULL) {
        err = ERR_NOMEM;
        goto done;
    }
    (void)mkdir(data_dir, 0750); /* where it cannot be made, opening the file says so */
    err = store_open(file, STORE_CREATE, &store, &why);
    if (err == ERR_OK) {
        struct stored_revision last;
        /* The lock is held from the first look to the commit: nobody comes between. */
        err = store_begin(store);
        if (err == ERR_OK)
            err = store_last_revision(store, &last);
        if (err == ERR_OK && last.office > 0)
            err = store_load_event(store, &there);
        if (err == ERR_OK)
            err = import_event(store, model, there, &folder.files, NULL, &problems);
        if (err != ERR_OK && !problems_fatal(&problems))
            textbuf_puts(&why, store_message(store));
    }
    if (err != ERR_OK && why.len > 0)
        (void)fprintf(stderr, "cairn: %s: %s\n", file, textbuf_text(&why));
done:
    print_problems(&problems);
    if (err == ERR_OK && has_no_key(store))
        (void)fprintf(stderr, "cairn: nobody has a key yet: cairn key add %s %s --role organiser\n",
                      data_dir, model->rules->slug);
    if (err == ERR_OK)
        (void)printf("%s: %d cars, %d readings, %d decisions\n", model->rules->slug,
                     model->entries->count, readings_count(model->readings),
                     decisions_count(model->decisions));
    store_close(store);
    model_free(there);
    model_free(model);
    event_folder_clear(&folder);
    problems_clear(&problems);
    textbuf_clear(&why);
    free(file);
    return exit_code(err);
}

static int run(const struct arguments *a) {
    return import_folder(a->operands[0], a->operands[1]);
}

const struct command command_import = {
    .name = "import",
    .summary = "make an event file from a folder, or bring it up to one",
    .about = about,
    .least = 2,
    .most = 2,
    .needs = "a data folder and an event folder",
    .run = run,
};
