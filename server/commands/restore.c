/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "commands/recovery.h"
#include "store/store.h"
#include "store/store_lock.h"
#include "system/data_dir.h"
#include "system/files.h"

static const char about[] =
    "cairn restore DATA_DIR SLUG COPY [--anyway]\n"
    "\n"
    "Puts a copy (see cairn backup) in the place of DATA_DIR/SLUG.cairn. Stop the server first:\n"
    "while a server, cairn follow or another command has the event open, nothing is done. COPY is\n"
    "looked at before anything is changed: whether it is whole, each fact in it, and that it is "
    "of\n"
    "this event. COPY itself stays as it is.\n"
    "\n"
    "What was there is kept under another name, SLUG.cairn.aside-MOMENT, with what belongs to it;\n"
    "no server serves that. What it has and the copy has not can be brought back: cairn merge.\n"
    "Run by root, the file is given to the owner of the folder.\n";

struct restore_options {
    bool anyway;
};

static const struct option_row rows[] = {
    {"anyway", OPTION_FLAG, NULL, "also where facts of COPY are damaged: each is named",
     .at = offsetof(struct restore_options, anyway)},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 where COPY is not to be used or somebody has the event open, and then\n"
    "nothing was changed; 1 for a failure of the machine.\n";

/* The event file, its log's index, and its log, without which it is not complete. */
static const char *const suffixes[] = {"", "-shm", "-wal"};
enum { SUFFIX_COUNT = sizeof suffixes / sizeof suffixes[0] };

/* Renames what is there, the event file first: should the machine stop in the middle, there is no
 * event, which everybody notices, instead of an event without the end of its log.
 *   kept  gets the new name, NULL where nothing was there; the caller frees */
static int set_aside(const char *path, char **kept) {
    char *name = data_dir_aside(path);
    bool any = false;
    int err = name == NULL ? ERR_NOMEM : ERR_OK;
    *kept = NULL;
    for (int i = 0; err == ERR_OK && i < SUFFIX_COUNT; i++) {
        char *from = NULL;
        char *to = NULL;
        if (asprintf(&from, "%s%s", path, suffixes[i]) < 0 ||
            asprintf(&to, "%s%s", name, suffixes[i]) < 0)
            err = ERR_NOMEM;
        else if (rename(from, to) == 0)
            any = true;
        else if (errno != ENOENT) {
            (void)fprintf(stderr, "cairn: %s: %s\n", from, strerror(errno));
            err = ERR_IO;
        }
        free(from);
        free(to);
    }
    if (any)
        *kept = name;
    else
        free(name);
    return err;
}

static void print_result(const char *data_dir, const char *slug, const char *copy, const char *kept,
                         const struct recovered *found) {
    struct textbuf b = {0};
    if (kept != NULL)
        textbuf_printf(&b, "%s: what was there is kept as %s\n", slug, kept);
    textbuf_printf(&b, "%s: restored from %s: ", slug, copy);
    recovery_write(&b, found);
    textbuf_puts(&b, "\n");
    if (found->epoch.standby)
        textbuf_printf(&b,
                       "Next: this is a copy of a standby and takes no writes. To make it the "
                       "first: cairn promote %s %s\n",
                       data_dir, slug);
    else
        textbuf_puts(&b, "Next: start the server (systemctl start cairn). Desks send again what "
                         "they hold; what comes twice counts once.\n");
    if (kept != NULL)
        textbuf_printf(&b,
                       "What the file set aside has beyond the copy comes back by: cairn merge "
                       "%s %s %s\n",
                       data_dir, slug, kept);
    (void)print_output(&b);
    textbuf_clear(&b);
}

/* Reads the copy, checks it, and writes it beside its place as PATH.new. */
static int bring_in(const char *copy, const char *slug, const char *beside, bool anyway,
                    struct recovered *found) {
    struct store *store = NULL;
    struct textbuf why = {0};
    int err = store_open(copy, STORE_COPY, &store, &why);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s: %s\n", copy,
                      why.len > 0 ? textbuf_text(&why) : err_text(err));
    textbuf_clear(&why);
    if (err != ERR_OK)
        return err == ERR_UNKNOWN ? ERR_INPUT : err;
    err = recovery_check(store, copy, slug, anyway, found);
    if (err == ERR_OK) {
        err = store_backup(store, beside, true);
        if (err != ERR_OK)
            (void)fprintf(stderr, "cairn: %s\n", store_message(store));
    }
    store_close(store);
    return err;
}

static int restore(const char *data_dir, const char *slug, const char *path, const char *copy,
                   bool anyway) {
    struct textbuf why = {0};
    struct recovered found;
    char *beside = NULL;
    char *kept = NULL;
    int lock = -1;
    if (file_is_same(path, copy)) {
        (void)fprintf(stderr, "cairn: %s: that is the event file itself\n", copy);
        return exit_code(ERR_INPUT);
    }
    int err =
        asprintf(&beside, "%s.new", path) < 0 ? ERR_NOMEM : store_lock_exclusive(path, &lock, &why);
    if (err != ERR_OK && why.len > 0)
        (void)fprintf(stderr, "cairn: %s: %s\n", path, textbuf_text(&why));
    if (err == ERR_OK)
        err = bring_in(copy, slug, beside, anyway, &found);
    if (err == ERR_OK) {
        err = set_aside(path, &kept);
        if (err == ERR_OK)
            err = file_put(beside, path, false);
        if (err == ERR_IO || err == ERR_CONFLICT)
            (void)fprintf(stderr, "cairn: %s: %s; the copy is %s, what was there %s\n", path,
                          strerror(errno), beside, kept == NULL ? "was nothing" : kept);
    }
    if (err == ERR_OK)
        print_result(data_dir, slug, copy, kept, &found);
    store_lock_release(lock);
    textbuf_clear(&why);
    free(beside);
    free(kept);
    return exit_code(err == ERR_CONFLICT ? ERR_INPUT : err);
}

static int run(const struct arguments *a) {
    const struct restore_options *o = a->options;
    char *path = NULL;
    int code = event_file_path(&command_restore, a->operands[0], a->operands[1], &path);
    if (code == EXIT_GOOD)
        code = restore(a->operands[0], a->operands[1], path, a->operands[2], o->anyway);
    free(path);
    return code;
}

const struct command command_restore = {
    .name = "restore",
    .summary = "put a copy in the place of an event file",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 3,
    .most = 3,
    .needs = "a data folder, a slug and a copy",
    .defaults = &(const struct restore_options){0},
    .size = sizeof(struct restore_options),
    .run = run,
};
