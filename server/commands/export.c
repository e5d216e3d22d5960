/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "commands/recovery.h"
#include "event/export.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "system/files.h"

static const char export_about[] =
    "cairn export DATA_DIR SLUG FOLDER\n"
    "\n"
    "Writes the event folder back: event.json, entries.csv and starts.csv as they are in force,\n"
    "and every reading and decision. Importing that folder gives the same standings and the same\n"
    "folder again. Works while the server runs.\n"
    "\n"
    "Exit status: 0; 2 where the event file is damaged: facts that do not read are left out, "
    "those\n"
    "that are not as they were taken are written as they are, each is named on standard error; 1\n"
    "for a failure of the machine.\n";

static const char backup_about[] =
    "cairn backup DATA_DIR SLUG FILE [--replace]\n"
    "\n"
    "Writes a consistent copy of the event file while the server runs. It is written beside FILE as\n"
    "FILE.part and moved into place when it is whole and on the disk. To put a copy in: cairn\n"
    "restore.\n";

struct backup_options {
    bool replace;
};

static const struct option_row backup_rows[] = {
    {"replace", OPTION_FLAG, NULL, "a FILE that is there is replaced, in one move: for a timer",
     .at = offsetof(struct backup_options, replace)},
    {0},
};

static const char backup_notes[] =
    "Exit status: 0; 2 for bad input, such as a FILE that is there, or where facts are damaged: the\n"
    "copy is made, and each is named on standard error; 1 for a failure of the machine.\n";

/* Where to write. */
struct target {
    const char *slug;
    const char *path;
    bool replace; /* of a backup: what is there goes */
};

static int export_document(struct store *store, const char *folder, const char *name,
                           bool required) {
    char *text = NULL;
    size_t len = 0;
    int err = store_document(store, name, &text, &len);
    if (err == ERR_OK && (required || len > 0))
        err = file_write(folder, name, text, len);
    if (err == ERR_UNKNOWN && !required)
        err = ERR_OK;
    free(text);
    return err;
}

/* One file of readings, where there are any for it. */
static int export_facts(const struct readings *readings,
                        int (*write)(const struct readings *readings, struct textbuf *b),
                        const char *folder, const char *name, struct textbuf *b) {
    textbuf_reset(b);
    int err = write(readings, b);
    return err == ERR_OK && b->len > 0 ? file_write(folder, name, b->bytes, b->len) : err;
}

/* Facts that are left out, or are written though they are not as they were taken: each by name. */
static int print_damage(struct store *store, const char *slug) {
    return recovery_print_damage(store, slug) > 0 ? ERR_INPUT : ERR_OK;
}

static int export_event(struct store *store, const struct target *target) {
    const char *folder = target->path;
    struct model *model = NULL;
    struct textbuf b = {0};
    bool begun = store_read_begin(store); /* all files are of one moment */
    int err = store_load_event(store, &model);
    if (err == ERR_OK)
        err = store_verify(store);
    if (err == ERR_OK && mkdir(folder, 0777) != 0 && errno != EEXIST) {
        (void)fprintf(stderr, "cairn: %s: %s\n", folder, strerror(errno));
        err = ERR_IO;
    }
    if (err == ERR_OK)
        err = export_document(store, folder, "event.json", true);
    if (err == ERR_OK)
        err = export_document(store, folder, "entries.csv", true);
    if (err == ERR_OK)
        err = export_document(store, folder, "starts.csv", false);
    if (err == ERR_OK && readings_count(model->readings) > 0)
        err = export_facts(model->readings, export_readings, folder, "readings.csv", &b);
    if (err == ERR_OK)
        err = export_facts(model->readings, export_unassigned, folder, "unassigned.csv", &b);
    textbuf_reset(&b);
    if (err == ERR_OK && decisions_count(model->decisions) > 0) {
        err = export_decisions(model->decisions, &b);
        if (err == ERR_OK)
            err = file_write(folder, "decisions.csv", b.bytes, b.len);
    }
    store_read_end(store, begun);
    textbuf_clear(&b);
    model_free(model);
    return err == ERR_OK ? print_damage(store, target->slug) : err;
}

static int run_on_store(const struct arguments *a, struct target target,
                        int (*work)(struct store *store, const struct target *target)) {
    struct store *store = NULL;
    int err = event_file_open(a->operands[0], a->operands[1], true, &store);
    if (err == ERR_OK) {
        target.slug = a->operands[1];
        target.path = a->operands[2];
        err = work(store, &target);
        if (err != ERR_OK && *store_message(store) != '\0')
            (void)fprintf(stderr, "cairn: %s/%s.cairn: %s\n", a->operands[0], a->operands[1],
                          store_message(store));
    }
    store_close(store);
    return exit_code(err);
}

/* A damaged event is copied all the same: it is all that there is. */
static int copy_event(struct store *store, const struct target *target) {
    int err = store_verify(store);
    if (err == ERR_OK)
        err = store_backup(store, target->path, target->replace);
    if (err == ERR_CONFLICT)
        return ERR_INPUT;
    return err == ERR_OK ? print_damage(store, target->slug) : err;
}

static int run_export(const struct arguments *a) {
    return run_on_store(a, (struct target){0}, export_event);
}

static int run_backup(const struct arguments *a) {
    const struct backup_options *o = a->options;
    return run_on_store(a, (struct target){.replace = o->replace}, copy_event);
}

const struct command command_export = {
    .name = "export",
    .summary = "write the event folder back",
    .about = export_about,
    .least = 3,
    .most = 3,
    .needs = "a data folder, a slug and where to write",
    .run = run_export,
};

const struct command command_backup = {
    .name = "backup",
    .summary = "write a consistent copy of an event file",
    .about = backup_about,
    .options = backup_rows,
    .notes = backup_notes,
    .least = 3,
    .most = 3,
    .needs = "a data folder, a slug and where to write",
    .defaults = &(const struct backup_options){0},
    .size = sizeof(struct backup_options),
    .run = run_backup,
};
