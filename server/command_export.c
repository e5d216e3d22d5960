/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command.h"
#include "data_dir.h"
#include "err.h"
#include "export.h"
#include "folder.h"
#include "store.h"

static const char export_help[] =
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

static const char backup_help[] =
    "cairn backup DATA_DIR SLUG FILE\n"
    "\n"
    "Writes a consistent copy of the event file while the server runs. FILE must not be there.\n"
    "To restore, stop the server and put the copy in the place of DATA_DIR/SLUG.cairn.\n";

/* Opens an event's store by its slug, with a message where that fails. */
static int open_store(const char *data_dir, const char *slug, struct store **out) {
    struct textbuf why = {0};
    char *path = data_dir_path(data_dir, slug);
    int err = ERR_UNKNOWN;
    *out = NULL;
    if (path == NULL)
        textbuf_printf(&why, "“%s” is no slug", slug);
    else
        err = store_open(path, STORE_OPEN, out, &why);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s: %s\n", path == NULL ? slug : path, textbuf_text(&why));
    textbuf_clear(&why);
    free(path);
    return err == ERR_UNKNOWN ? ERR_INPUT : err;
}

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

/* Facts that are not written, or are written though they are not as they were taken: each by name.
 * Returns ERR_INPUT where there is any. */
static int tell_damage(struct store *store, const char *slug) {
    const struct damage *both[] = {store_unread(store), store_broken(store)};
    static const char *const words[] = {"left out", "damaged"};
    int err = ERR_OK;
    for (int i = 0; i < 2; i++) {
        for (size_t k = 0; k < both[i]->named; k++) {
            struct textbuf b = {0};
            damage_write(&b, &both[i]->list[k]);
            (void)fprintf(stderr, "cairn: %s: %s: %s\n", slug, words[i], textbuf_text(&b));
            textbuf_clear(&b);
        }
        int64_t more = both[i]->found - (int64_t)both[i]->named;
        if (more > 0)
            (void)fprintf(stderr, "cairn: %s: %s: %lld more\n", slug, words[i], (long long)more);
        if (both[i]->found > 0)
            err = ERR_INPUT;
    }
    return err;
}

static int export_event(struct store *store, const char *slug, const char *folder) {
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
    if (err == ERR_OK && readings_count(model->readings) > 0) {
        err = export_readings(model->readings, &b);
        if (err == ERR_OK)
            err = file_write(folder, "readings.csv", b.bytes, b.len);
    }
    textbuf_reset(&b);
    if (err == ERR_OK && decisions_count(model->decisions) > 0) {
        err = export_decisions(model->decisions, &b);
        if (err == ERR_OK)
            err = file_write(folder, "decisions.csv", b.bytes, b.len);
    }
    store_read_end(store, begun);
    textbuf_clear(&b);
    model_free(model);
    return err == ERR_OK ? tell_damage(store, slug) : err;
}

static int run_on_store(int argc, char **argv, const struct command *command,
                        int (*work)(struct store *store, const char *slug, const char *target)) {
    struct options o;
    struct store *store = NULL;
    options_init(&o, command, argc, argv);
    while (options_next(&o)) {
        if (strcmp(o.name, "help") != 0)
            return options_unknown(&o);
        (void)fputs(command->help, stdout);
        return EXIT_GOOD;
    }
    if (o.operand_count != 3)
        return usage_error(command, "it needs a data folder, a slug and where to write");
    int err = open_store(o.operands[0], o.operands[1], &store);
    if (err == ERR_OK) {
        err = work(store, o.operands[1], o.operands[2]);
        if (err != ERR_OK && *store_message(store) != '\0')
            (void)fprintf(stderr, "cairn: %s/%s.cairn: %s\n", o.operands[0], o.operands[1],
                          store_message(store));
    }
    store_close(store);
    return exit_code(err);
}

static int copy_event(struct store *store, const char *slug, const char *file) {
    (void)slug;
    return store_backup(store, file);
}

static int run_export(int argc, char **argv) {
    return run_on_store(argc, argv, &command_export, export_event);
}

static int run_backup(int argc, char **argv) {
    return run_on_store(argc, argv, &command_backup, copy_event);
}

const struct command command_export = {
    .name = "export",
    .summary = "write the event folder back",
    .help = export_help,
    .run = run_export,
};

const struct command command_backup = {
    .name = "backup",
    .summary = "write a consistent copy of an event file",
    .help = backup_help,
    .run = run_backup,
};
