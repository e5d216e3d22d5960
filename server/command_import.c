/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "command.h"
#include "data_dir.h"
#include "err.h"
#include "folder.h"
#include "problem.h"
#include "store.h"

static const char help[] =
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

/* Adds what the folder has and the file has not. An id that is there with other content is bad
 * input: nothing is taken then. */
static int import_facts(struct store *store, const struct event *folder, const struct event *there,
                        const struct event_files *files, struct problems *problems, bool *changed) {
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
            *changed = true;
        } else if (readings_try(there->readings, &r->text, &reason) == READING_REFUSED) {
            problems_add(problems, PROBLEM_ERROR, "readings.csv", 0, "%s", textbuf_text(&reason));
            textbuf_reset(&reason);
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
            *changed = true;
        } else if (decisions_try(there->decisions, &d->text, &reason) == DECISION_REFUSED) {
            problems_add(problems, PROBLEM_ERROR, "decisions.csv", d->line, "%s",
                         textbuf_text(&reason));
            textbuf_reset(&reason);
        }
    }
    textbuf_clear(&reason);
    return err == ERR_OK && problems_fatal(problems) ? ERR_INPUT : err;
}

static int import_all(struct store *store, const struct event *folder, const struct event *there,
                      const struct event_files *files, struct problems *problems) {
    bool changed = false;
    struct stored_revision last;
    int err = store_begin(store);
    if (err != ERR_OK)
        return err;
    err = import_document(store, "event.json", &files->rules, &changed);
    if (err == ERR_OK)
        err = import_document(store, "entries.csv", &files->entries, &changed);
    if (err == ERR_OK)
        err = import_document(store, "starts.csv", &files->starts, &changed);
    if (err == ERR_OK)
        err = import_facts(store, folder, there, files, problems, &changed);
    if (err == ERR_OK)
        err = store_last_revision(store, &last);
    if (err == ERR_OK && changed)
        err = store_add_revision(store, last.office + 1, last.public_number + 1, now_ms());
    if (err == ERR_OK && changed)
        return store_commit(store);
    store_rollback(store);
    return err;
}

static int import_folder(const char *data_dir, const char *path) {
    struct problems problems = {0};
    struct folder folder = {0};
    struct event *event = NULL;
    struct event *there = NULL;
    struct store *store = NULL;
    struct textbuf why = {0};
    char *file = NULL;
    int err = folder_read(path, &problems, &folder);
    if (err == ERR_OK)
        err = event_read(&folder.files, &problems, &event);
    if (err != ERR_OK)
        goto done;
    file = data_dir_path(data_dir, event->rules->slug);
    if (file == NULL) {
        err = ERR_NOMEM;
        goto done;
    }
    (void)mkdir(data_dir, 0750); /* where it cannot be made, opening the file says so */
    err = store_open(file, STORE_CREATE, &store, &why);
    if (err == ERR_OK) {
        struct stored_revision last;
        err = store_last_revision(store, &last);
        if (err == ERR_OK && last.office > 0)
            err = store_load_event(store, &there);
        if (err == ERR_OK)
            err = import_all(store, event, there, &folder.files, &problems);
        if (err != ERR_OK && err != ERR_INPUT)
            textbuf_puts(&why, store_message(store));
    }
    if (err != ERR_OK && why.len > 0)
        (void)fprintf(stderr, "cairn: %s: %s\n", file, textbuf_text(&why));
done:
    print_problems(&problems);
    if (err == ERR_OK)
        (void)printf("%s: %d cars, %d readings, %d decisions\n", event->rules->slug,
                     event->entries->count, readings_count(event->readings),
                     decisions_count(event->decisions));
    store_close(store);
    event_free(there);
    event_free(event);
    folder_clear(&folder);
    problems_clear(&problems);
    textbuf_clear(&why);
    free(file);
    return exit_code(err);
}

static int run(int argc, char **argv) {
    struct options o;
    options_init(&o, &command_import, argc, argv);
    while (options_next(&o)) {
        if (strcmp(o.name, "help") != 0)
            return options_unknown(&o);
        (void)fputs(help, stdout);
        return EXIT_GOOD;
    }
    if (o.operand_count != 2)
        return usage_error(&command_import, "it needs a data folder and an event folder");
    return import_folder(o.operands[0], o.operands[1]);
}

const struct command command_import = {
    .name = "import",
    .summary = "make an event file from a folder, or bring it up to one",
    .help = help,
    .run = run,
};
