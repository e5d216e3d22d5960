/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/err.h"
#include "base/problem.h"
#include "commands/commands.h"
#include "live/event_import.h"
#include "store/store.h"
#include "store/stored_keys.h"
#include "system/data_dir.h"
#include "system/event_folder.h"
#include "system/problem_lines.h"

static const char about[] =
    "cairn import DATA_DIR FOLDER\n"
    "\n"
    "Makes the event file DATA_DIR/SLUG.cairn from an event folder, or brings an existing one up\n"
    "to the folder: event.json, entries and start times are taken over, readings and decisions\n"
    "are added and never taken away. Refused readings are reported and left out.\n"
    "\n"
    "Exit status: 0; 2 for bad input, and then nothing was changed; 1 for a failure of the\n"
    "machine.\n";

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
            err = event_import(store, model, there, &folder.files, NULL, &problems);
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
