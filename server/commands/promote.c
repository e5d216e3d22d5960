/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "commands/recovery.h"
#include "store/store.h"
#include "system/system_clock.h"

static const char about[] =
    "cairn promote DATA_DIR SLUG [--anyway]\n"
    "\n"
    "Makes an event file that cairn follow filled the first of its event: from then on its server\n"
    "takes writes. End cairn follow and stop the server of that folder before; while either has\n"
    "the event open nothing is done. Every fact is looked at first.\n"
    "\n"
    "It begins a new epoch. The server that was followed must not be used as it is any more:\n"
    "cairn follow refuses to copy from it into this file, cairn merge tells what it took alone,\n"
    "and it may itself follow this one.\n";

struct promote_options {
    bool anyway;
};

static const struct option_row rows[] = {
    {"anyway", OPTION_FLAG, NULL, "also where facts are damaged: each is named",
     .at = offsetof(struct promote_options, anyway)},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 where the file stands by for nobody, is damaged, or somebody has it open,\n"
    "and then nothing was changed; 1 for a failure of the machine.\n";

static void print_result(const char *data_dir, const char *slug, const struct recovered *found) {
    struct textbuf b = {0};
    char *seal = NULL;
    textbuf_printf(&b, "%s: is the first now, epoch %lld: ", slug, (long long)found->epoch.number);
    recovery_write(&b, found);
    textbuf_puts(&b, "\nNext: start the server here (systemctl start cairn) and let desks and "
                     "spectators come to it. What the other one acknowledged in its last seconds "
                     "may be missing: the control room shows the desks' gaps. When its disk can be "
                     "read: ");
    textbuf_printf(&b, "cairn merge %s %s ITS_FILE\n", data_dir, slug);
    if (asprintf(&seal, "%s/%s.signing", data_dir, slug) >= 0 && access(seal, F_OK) != 0)
        textbuf_printf(&b, "%s is not here: notices will be sealed with a new secret.\n", seal);
    (void)print_output(&b);
    free(seal);
    textbuf_clear(&b);
}

static int begin_epoch(struct store *store, struct store_epoch *epoch) {
    *epoch = (struct store_epoch){.number = epoch->number + 1, .made_ms = now_ms()};
    int err = store_begin(store);
    if (err == ERR_OK)
        err = store_add_epoch(store, epoch);
    return err == ERR_OK ? store_commit(store) : err;
}

static int promote(const char *data_dir, const char *slug, const char *path, bool anyway) {
    struct store *store = NULL;
    struct textbuf why = {0};
    struct recovered found;
    int err = store_open(path, STORE_EXCLUSIVE, &store, &why);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s: %s\n", path,
                      why.len > 0 ? textbuf_text(&why) : err_text(err));
    textbuf_clear(&why);
    if (err != ERR_OK)
        return exit_code(err == ERR_UNKNOWN || err == ERR_CONFLICT ? ERR_INPUT : err);
    err = recovery_check(store, path, slug, anyway, &found);
    if (err == ERR_OK && !found.epoch.standby) {
        (void)fprintf(stderr, "cairn: %s: it stands by for nobody: it is the first already\n",
                      path);
        err = ERR_INPUT;
    }
    if (err == ERR_OK) {
        err = begin_epoch(store, &found.epoch);
        if (err != ERR_OK)
            (void)fprintf(stderr, "cairn: %s: %s\n", path, store_message(store));
    }
    store_close(store);
    if (err == ERR_OK)
        print_result(data_dir, slug, &found);
    return exit_code(err);
}

static int run(const struct arguments *a) {
    const struct promote_options *o = a->options;
    char *path = NULL;
    int code = event_file_path(&command_promote, a->operands[0], a->operands[1], &path);
    if (code == EXIT_GOOD)
        code = promote(a->operands[0], a->operands[1], path, o->anyway);
    free(path);
    return code;
}

const struct command command_promote = {
    .name = "promote",
    .summary = "make a standby the first",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 2,
    .most = 2,
    .needs = "a data folder and a slug",
    .defaults = &(const struct promote_options){0},
    .size = sizeof(struct promote_options),
    .run = run,
};
