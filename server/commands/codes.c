/* SPDX-License-Identifier: MIT */
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api/codes.h"
#include "base/decimal.h"
#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "store/code_book.h"
#include "store/store.h"
#include "system/system_clock.h"

static const char about[] =
    "cairn codes FILE [options]\n"
    "cairn codes DATA_DIR SLUG [options]\n"
    "\n"
    "Prints the code of each crew as CSV: number, driver, navigator, code. FILE is an event file.\n"
    "With its code a crew asks about its card on the card's page and reads the answer. Works while\n"
    "a server serves the same folder. cairn paper DATA_DIR SLUG codes FILE prints them to cut up.\n";

struct codes_options {
    const char *renew; /* a car's number, or “all” */
};

static const struct option_row rows[] = {
    {"renew", OPTION_TEXT, "CAR",
     "car CAR gets a new code first, since the one before was lost or seen by others",
     .at = offsetof(struct codes_options, renew)},
    {"renew", OPTION_TEXT, "all", "every car gets a new code",
     .at = offsetof(struct codes_options, renew)},
    {0},
};

static const char notes[] =
    "Codes are made from a secret in the event file: copies of that file have the same codes, and a\n"
    "file imported anew from an event folder has others.\n"
    "\n"
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

/* Renews one code, or all. Returns an error, reported already or in store_message. */
static int renew(struct store *store, const struct event *event, const char *which) {
    struct code_book book = {0};
    struct stored_revision last;
    int64_t car = 0;
    bool all = strcmp(which, "all") == 0;
    if (!all && (decimal_parse_whole(which, 1, NUMBER_MAX, &car) != ERR_OK ||
                 entries_find(event->entries, car) < 0)) {
        (void)usage_error(&command_codes, "there is no car “%s” in the entry list", which);
        return ERR_INPUT;
    }
    int64_t now = now_ms();
    int err = store_begin(store);
    if (err == ERR_OK)
        err = store_last_revision(store, &last);
    if (err == ERR_OK && all)
        err = store_make_code_secret(store, now);
    if (err == ERR_OK && !all && (err = store_code_book(store, &book)) == ERR_OK)
        err = store_add_renewal(store,
                                &(struct code_renewal){.car = car,
                                                       .serial = code_book_serial(&book, car) + 1,
                                                       .renewed_ms = now},
                                0);
    if (err == ERR_OK)
        err = store_add_revision(store, last.office + 1, last.public_number, now);
    if (err == ERR_OK)
        err = store_commit(store);
    else
        store_rollback(store);
    code_book_clear(&book);
    return err;
}

static int print_codes(const char *path, const char *which) {
    struct store *store = NULL;
    struct model *model = NULL;
    struct code_book book = {0};
    struct textbuf b = {0};
    int code = EXIT_GOOD;
    int err = sodium_init() < 0 ? ERR_IO : store_open(path, STORE_OPEN, &store, &b);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s: %s\n", path, textbuf_text(&b));
        code = err == ERR_UNKNOWN || err == ERR_INPUT ? EXIT_INPUT : EXIT_MACHINE;
    } else {
        err = store_load_event(store, &model);
        if (err == ERR_OK && which != NULL)
            err = renew(store, &model->event, which);
        if (err == ERR_OK)
            err = store_code_book(store, &book);
        if (err == ERR_OK)
            codes_write_csv(&b, model->entries, &book);
        if (err != ERR_OK && *store_message(store) != '\0')
            (void)fprintf(stderr, "cairn: %s: %s\n", path, store_message(store));
        code = err == ERR_OK ? print_output(&b) : exit_code(err);
    }
    code_book_clear(&book);
    model_free(model);
    store_close(store);
    textbuf_clear(&b);
    return code;
}

static int run(const struct arguments *a) {
    const struct codes_options *o = a->options;
    if (a->count == 1)
        return print_codes(a->operands[0], o->renew);
    char *path = NULL;
    int code = event_file_path(&command_codes, a->operands[0], a->operands[1], &path);
    if (code == EXIT_GOOD)
        code = print_codes(path, o->renew);
    free(path);
    return code;
}

const struct command command_codes = {
    .name = "codes",
    .summary = "print or renew the codes by which crews ask",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 2,
    .needs = "an event file, or a data folder and a slug",
    .defaults = &(const struct codes_options){0},
    .size = sizeof(struct codes_options),
    .run = run,
};
