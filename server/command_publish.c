/* SPDX-License-Identifier: MIT */
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "command.h"
#include "data_dir.h"
#include "err.h"
#include "http.h"
#include "static_site.h"

static const char help[] =
    "cairn publish DATA_DIR SLUG OUT_DIR [--watch]\n"
    "\n"
    "Writes the public pages of an event, in all languages, and the same figures as JSON and CSV\n"
    "to a folder that any web host can serve. Links lead from file to file, so the folder may\n"
    "stand at any address. manifest.json lists every file with its SHA-256. Files that are there\n"
    "with the same bytes are left alone; the others are moved into place whole; what an earlier\n"
    "manifest names and this one does not is removed at the end.\n"
    "\n"
    "What is hidden from the public is not in it. Uploads, streams, the desk and the office need\n"
    "the server.\n"
    "\n"
    "  --watch  go on, and write again at every new public revision, until SIGTERM or SIGINT;\n"
    "           works while a server serves the same folder\n"
    "\n"
    "Exit status: 0; 2 for a wrong command line or an unknown event; 1 for a failure of the\n"
    "machine.\n";

/* How often a watch looks for a new revision, ms. */
enum { WATCH_EVERY_MS = 200 };

static volatile sig_atomic_t stopped;

static void stop(int signal_number) {
    (void)signal_number;
    stopped = 1;
}

/* The public revision of the event, -1 where it is gone. */
static int64_t revision_of(struct server *server, const char *slug) {
    struct held *held = scorekeeper_find(server_keeper(server), slug);
    struct snapshot *s = held == NULL ? NULL : snapshot_acquire(&held->slot);
    int64_t revision = s == NULL ? -1 : s->open_scene.revision;
    snapshot_release(s);
    return revision;
}

static int write_site(struct server *server, const char *slug, const char *folder,
                      int64_t *revision) {
    struct static_count count;
    struct textbuf why = {0};
    int err = static_site_write(server, slug, folder, &count, &why);
    if (err == ERR_OK)
        (void)printf("revision %lld: %zu files, %zu written, %zu removed\n",
                     (long long)count.revision, count.files, count.written, count.removed);
    else
        (void)fprintf(stderr, "cairn: %s\n", why.len > 0 ? textbuf_text(&why) : err_text(err));
    (void)fflush(stdout);
    *revision = count.revision;
    textbuf_clear(&why);
    return err;
}

static int publish(const char *data_dir, const char *slug, const char *folder, bool watch) {
    struct server *server = NULL;
    struct textbuf why = {0};
    int64_t revision = -1;
    int err = sodium_init() < 0 ? ERR_IO : server_open(data_dir, &why, &server);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s\n", why.len > 0 ? textbuf_text(&why) : err_text(err));
    else
        err = write_site(server, slug, folder, &revision);
    while (err == ERR_OK && watch && !stopped) {
        (void)nanosleep(&(struct timespec){.tv_nsec = WATCH_EVERY_MS * 1000000L}, NULL);
        if (!stopped && revision_of(server, slug) != revision)
            err = write_site(server, slug, folder, &revision);
    }
    server_stop(server);
    textbuf_clear(&why);
    return err == ERR_UNKNOWN ? EXIT_INPUT : exit_code(err);
}

static int run(int argc, char **argv) {
    struct options o;
    bool watch = false;
    options_init(&o, &command_publish, argc, argv);
    while (options_next(&o)) {
        if (strcmp(o.name, "help") == 0) {
            (void)fputs(help, stdout);
            return EXIT_GOOD;
        }
        if (strcmp(o.name, "watch") != 0)
            return options_unknown(&o);
        watch = true;
    }
    if (o.operand_count != 3)
        return usage_error(&command_publish, "it needs a data folder, a slug and a folder");
    if (watch) {
        struct sigaction action = {.sa_handler = stop};
        (void)sigaction(SIGTERM, &action, NULL);
        (void)sigaction(SIGINT, &action, NULL);
    }
    return publish(o.operands[0], o.operands[1], o.operands[2], watch);
}

const struct command command_publish = {
    .name = "publish",
    .summary = "write the public pages and figures as a static site",
    .help = help,
    .run = run,
};
