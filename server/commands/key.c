/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/decimal.h"
#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "store/keys.h"
#include "store/store.h"
#include "store/stored_keys.h"
#include "system/files.h"
#include "system/qr.h"
#include "system/system_clock.h"

static const char about[] =
    "cairn key add DATA_DIR SLUG --role organiser [options]\n"
    "cairn key add DATA_DIR SLUG --role timekeeper --points TC1,R1 [options]\n"
    "cairn key list DATA_DIR SLUG\n"
    "cairn key revoke DATA_DIR SLUG NUMBER\n"
    "\n"
    "add prints the new key alone on standard output; it is shown this once and cannot be shown\n"
    "again. list shows the numbers that revoke takes. All work while the server runs; a revoked\n"
    "key is refused at once.\n";

struct key_options {
    const char *role;
    const char *points;
    const char *label;
    const char *link;
    const char *qr;
};

static const struct option_row rows[] = {
    {"role", OPTION_TEXT, "ROLE", "organiser or timekeeper",
     .at = offsetof(struct key_options, role)},
    {"points", OPTION_TEXT, "LIST",
     "a timekeeper's key works for these points only: ids of points (R1/2) or of\n"
     "items (R1: all of its points)",
     .at = offsetof(struct key_options, points)},
    {"label", OPTION_TEXT, "WHO", "whose it is, for key list and the event's log",
     .at = offsetof(struct key_options, label)},
    {"link", OPTION_TEXT, "URL",
     "print a link that opens the key's page instead; URL is the address at which\n"
     "the server is reached, such as https://10.0.0.2:8443. The key stands behind\n"
     "the # of the link, which no browser sends. Whoever has the link can write:\n"
     "pass it on as you would a key to a door",
     .at = offsetof(struct key_options, link)},
    {"qr", OPTION_TEXT, "FILE",
     "also write the link as a QR code (SVG) to FILE, which must not be there yet",
     .at = offsetof(struct key_options, qr)},
    {0},
};

static const char notes[] = "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

/* Writes the link's QR code to a new file that only its owner may read. */
static int write_qr(const char *path, const char *link) {
    struct textbuf svg = {0};
    int err = qr_svg(&svg, link);
    int fd = err == ERR_OK ? open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600) : -1;
    if (err == ERR_OK && fd < 0)
        err = ERR_IO;
    if (err == ERR_OK && !descriptor_write(fd, svg.bytes, svg.len))
        err = ERR_IO;
    if (fd >= 0 && close(fd) != 0)
        err = ERR_IO;
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s: %s\n", path,
                      err == ERR_IO ? strerror(errno) : err_text(err));
    textbuf_clear(&svg);
    return err;
}

/* Prints the new key, or the link that holds it. Returns an exit code. */
static int print_key(const struct key_options *options, const char *slug, const char *text) {
    struct textbuf link = {0};
    int err = ERR_OK;
    if (options->link == NULL) {
        (void)printf("%s\n", text);
        return EXIT_GOOD;
    }
    key_link(&link, options->link, slug, options->points == NULL, text);
    (void)printf("%s\n", textbuf_text(&link));
    if (options->qr != NULL)
        err = write_qr(options->qr, textbuf_text(&link));
    textbuf_clear(&link);
    return err == ERR_OK ? EXIT_GOOD : EXIT_MACHINE;
}

static int add(struct store *store, const char *path, const char *slug,
               const struct key_options *options) {
    struct model *model = NULL;
    char *wrong = NULL;
    char text[KEY_TEXT_LEN + 1];
    unsigned char hash[32];
    bool organiser = options->role != NULL && strcmp(options->role, "organiser") == 0;
    bool timekeeper = options->role != NULL && strcmp(options->role, "timekeeper") == 0;
    if (!organiser && !timekeeper)
        return usage_error(&command_key, "--role must be organiser or timekeeper");
    if (timekeeper != (options->points != NULL && *options->points != '\0'))
        return usage_error(&command_key, timekeeper ? "a timekeeper's key needs --points"
                                                    : "an organiser's key has no --points");
    if (options->link != NULL && !key_base_is_good(options->link))
        return usage_error(&command_key,
                           "--link must be the server's address, as https://host:port");
    if (options->qr != NULL && options->link == NULL)
        return usage_error(&command_key, "--qr needs --link");
    int err = store_load_event(store, &model);
    if (err == ERR_OK && timekeeper &&
        !key_points_are_good(options->points, model->rules, &wrong)) {
        (void)usage_error(&command_key, "point “%s” is not on the route",
                          wrong == NULL ? "" : wrong);
        free(wrong);
        model_free(model);
        return EXIT_INPUT;
    }
    model_free(model);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s: %s\n", path, store_message(store));
        return exit_code(err);
    }
    key_make(text);
    key_hash(text, hash);
    err = store_begin(store);
    if (err == ERR_OK)
        err = store_add_key(store, hash, organiser, timekeeper ? options->points : "",
                            options->label == NULL ? "" : options->label, now_ms(), NULL);
    if (err == ERR_OK)
        err = store_commit(store);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s\n", store_message(store));
        return exit_code(err);
    }
    int code = print_key(options, slug, text);
    sodium_memzero(text, sizeof text);
    return code;
}

static int list(struct store *store) {
    struct stored_key *keys = NULL;
    size_t count = 0;
    int err = store_keys(store, &keys, &count);
    for (size_t i = 0; err == ERR_OK && i < count; i++) {
        struct textbuf when = {0};
        struct textbuf label = {0};
        write_instant(&when, keys[i].created_ms);
        textbuf_plain(&label, keys[i].label);
        (void)printf("%lld\t%s\t%s\t%s\t%s\t%s\n", (long long)keys[i].id,
                     keys[i].organiser ? "organiser" : "timekeeper",
                     keys[i].revoked ? "revoked" : "in force", textbuf_text(&when), keys[i].points,
                     textbuf_text(&label));
        textbuf_clear(&when);
        textbuf_clear(&label);
    }
    stored_keys_free(keys, count);
    return exit_code(err);
}

static int revoke_key(struct store *store, const char *number) {
    int64_t id;
    if (number == NULL || decimal_parse_whole(number, 1, 1000000000, &id) != ERR_OK)
        return usage_error(&command_key, "revoke needs the number of a key, see key list");
    int err = store_begin(store);
    if (err == ERR_OK)
        err = store_revoke_key(store, id, now_ms());
    if (err == ERR_UNKNOWN) {
        store_rollback(store);
        return usage_error(&command_key, "no key %s is in force", number);
    }
    if (err == ERR_OK)
        err = store_commit(store);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s\n", store_message(store));
    return exit_code(err);
}

static int run(const struct arguments *a) {
    const struct key_options *options = a->options;
    struct textbuf why = {0};
    struct store *store = NULL;
    const char *action = a->operands[0];
    bool adding = strcmp(action, "add") == 0;
    bool revoking = strcmp(action, "revoke") == 0;
    if ((!adding && !revoking && strcmp(action, "list") != 0) || a->count != (revoking ? 4 : 3))
        return usage_error(&command_key, "it needs %s", command_key.needs);
    char *path = NULL;
    int code = event_file_path(&command_key, a->operands[1], a->operands[2], &path);
    if (code != EXIT_GOOD)
        return code;
    int err = sodium_init() < 0 ? ERR_IO : store_open(path, STORE_OPEN, &store, &why);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s: %s\n", path, textbuf_text(&why));
        code = err == ERR_UNKNOWN || err == ERR_INPUT ? EXIT_INPUT : EXIT_MACHINE;
    } else if (revoking) {
        code = revoke_key(store, a->operands[3]);
    } else if (adding) {
        code = add(store, path, a->operands[2], options);
    } else {
        code = list(store);
    }
    store_close(store);
    textbuf_clear(&why);
    free(path);
    return code;
}

const struct command command_key = {
    .name = "key",
    .summary = "make, list and revoke keys",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 4,
    .needs = "add, list or revoke, a data folder and a slug",
    .defaults = &(const struct key_options){0},
    .size = sizeof(struct key_options),
    .run = run,
};
