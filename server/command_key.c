/* SPDX-License-Identifier: MIT */
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "command.h"
#include "data_dir.h"
#include "decimal.h"
#include "err.h"
#include "keys.h"
#include "store.h"

static const char help[] =
    "cairn key add DATA_DIR SLUG --role organiser [--label WHO]\n"
    "cairn key add DATA_DIR SLUG --role timekeeper --points TC1,R1 [--label WHO]\n"
    "cairn key list DATA_DIR SLUG\n"
    "cairn key revoke DATA_DIR SLUG NUMBER\n"
    "\n"
    "add prints the new key alone on standard output; it is shown this once and cannot be shown\n"
    "again. A timekeeper's key works for its points only: ids of points (R1/2) or of items (R1:\n"
    "all of its points). list shows the numbers that revoke takes. All work while the server\n"
    "runs; a revoked key is refused at once.\n";

struct key_options {
    const char *role;
    const char *points;
    const char *label;
};

static int add(struct store *store, const char *path, const struct key_options *options) {
    struct event *event = NULL;
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
    int err = store_load_event(store, &event);
    if (err == ERR_OK && timekeeper &&
        !key_points_are_good(options->points, event->rules, &wrong)) {
        (void)usage_error(&command_key, "point “%s” is not on the route",
                          wrong == NULL ? "" : wrong);
        free(wrong);
        event_free(event);
        return EXIT_INPUT;
    }
    event_free(event);
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
    (void)printf("%s\n", text);
    sodium_memzero(text, sizeof text);
    return EXIT_GOOD;
}

static int list(struct store *store) {
    struct stored_key *keys = NULL;
    size_t count = 0;
    int err = store_keys(store, &keys, &count);
    for (size_t i = 0; err == ERR_OK && i < count; i++) {
        char when[32] = "";
        time_t seconds = (time_t)(keys[i].created_ms / 1000);
        struct tm parts;
        if (gmtime_r(&seconds, &parts) != NULL)
            (void)strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", &parts);
        (void)printf("%lld\t%s\t%s\t%s\t%s\t%s\n", (long long)keys[i].id,
                     keys[i].organiser ? "organiser" : "timekeeper",
                     keys[i].revoked ? "revoked" : "in force", when, keys[i].points, keys[i].label);
    }
    stored_keys_free(keys, count);
    return exit_code(err);
}

static int revoke(struct store *store, const char *number) {
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

static int run(int argc, char **argv) {
    struct options o;
    struct key_options options = {0};
    struct textbuf why = {0};
    struct store *store = NULL;
    options_init(&o, &command_key, argc, argv);
    while (options_next(&o)) {
        const char *name = o.name;
        if (strcmp(name, "help") == 0) {
            (void)fputs(help, stdout);
            return EXIT_GOOD;
        }
        const char **slot = strcmp(name, "role") == 0     ? &options.role
                            : strcmp(name, "points") == 0 ? &options.points
                            : strcmp(name, "label") == 0  ? &options.label
                                                          : NULL;
        if (slot == NULL)
            return options_unknown(&o);
        *slot = options_value(&o);
        if (*slot == NULL)
            return EXIT_INPUT;
    }
    const char *action = o.operand_count > 0 ? o.operands[0] : "";
    bool revoking = strcmp(action, "revoke") == 0;
    if ((strcmp(action, "add") != 0 && strcmp(action, "list") != 0 && !revoking) ||
        o.operand_count != (revoking ? 4 : 3))
        return usage_error(&command_key, "it needs add, list or revoke, a data folder and a slug");
    char *path = data_dir_path(o.operands[1], o.operands[2]);
    int code = EXIT_INPUT;
    if (path == NULL)
        return usage_error(&command_key, "“%s” is no slug", o.operands[2]);
    int err = sodium_init() < 0 ? ERR_IO : store_open(path, STORE_OPEN, &store, &why);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s: %s\n", path, textbuf_text(&why));
        code = err == ERR_UNKNOWN || err == ERR_INPUT ? EXIT_INPUT : EXIT_MACHINE;
    } else if (revoking) {
        code = revoke(store, o.operands[3]);
    } else if (strcmp(action, "add") == 0) {
        code = add(store, path, &options);
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
    .help = help,
    .run = run,
};
