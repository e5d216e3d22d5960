/* SPDX-License-Identifier: MIT */
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "base/err.h"
#include "commands/commands.h"
#include "http/server.h"
#include "site/routes.h"
#include "site/static_site.h"

static const char about[] =
    "cairn publish DATA_DIR SLUG OUT_DIR [--watch] [--base URL]\n"
    "\n"
    "Writes the public pages of an event, in all languages, and the same figures as JSON and CSV\n"
    "to a folder that any web host can serve. Links lead from file to file, so the folder may\n"
    "stand at any address. What is hidden from the public is not in it. Uploads, streams, the\n"
    "desk and the office need the server.\n"
    "\n"
    "  /SLUG/cars/22            SLUG/cars/22/index.html\n"
    "  /SLUG/?by=class&lang=de  SLUG/by-class/lang-de/index.html\n"
    "  /api/v1/events/SLUG/standings?by=day&format=csv\n"
    "                           api/v1/events/SLUG/standings/by-day.csv\n"
    "\n"
    "manifest.json names the event, the revision, and every file with its size and SHA-256. Only\n"
    "files whose content changed are written (a page that says the same as before keeps its line\n"
    "on the revision); each is written beside and moved into place whole. The manifest comes "
    "next,\n"
    "and last what is no longer part of the site is removed; nothing else ever is.\n";

struct publish_options {
    const char *base; /* without "/" at its end; NULL where not given */
    bool watch;
};

/* An address that a site can stand at: of the web, and nothing behind its path. */
static bool is_base(const char *url) {
    const char *host = strncmp(url, "https://", 8) == 0  ? url + 8
                       : strncmp(url, "http://", 7) == 0 ? url + 7
                                                         : "";
    return *host != '\0' && *host != '/' && strlen(url) < 200 &&
           host[strspn(host, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                             "-._~:[]/%")] == '\0';
}

static int take_base(void *options, const char *name, char *value, struct textbuf *why) {
    struct publish_options *o = options;
    (void)name;
    if (!is_base(value)) {
        textbuf_puts(why, " takes the address of a site, such as https://results.example");
        return ERR_INPUT;
    }
    for (size_t len = strlen(value); len > 0 && value[len - 1] == '/'; len--)
        value[len - 1] = '\0';
    o->base = value;
    return ERR_OK;
}

static const struct option_row rows[] = {
    {"watch", OPTION_FLAG, NULL,
     "go on, and write again at every new public revision, until SIGTERM or SIGINT;\n"
     "works while a server serves the same folder",
     .at = offsetof(struct publish_options, watch)},
    {"base", OPTION_TAKEN, "URL",
     "where the site will stand, as in https://results.example/2027: adds QR codes\n"
     "and the pages' canonical addresses",
     .take = take_base},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 for a wrong command line, an unknown event, or a folder that holds the\n"
    "site of another event; 1 for a failure of the machine.\n";

/* How often a watch looks for a new revision, and how long it waits after a failure, ms. */
enum { WATCH_EVERY_MS = 200, RETRY_MS = 5000 };

struct plan {
    const char *data_dir, *slug, *folder;
    const char *base; /* NULL where not given */
    bool watch;
};

static volatile sig_atomic_t stopped;

static void stop(int signal_number) {
    (void)signal_number;
    stopped = 1;
}

/* The public revision of the event, -1 where it is gone. */
static int64_t revision_of(struct server *server, const char *slug) {
    struct served_event *served = served_events_find(server_events(server), slug);
    struct snapshot *s = served == NULL ? NULL : snapshot_acquire(&served->slot);
    int64_t revision = s == NULL ? -1 : s->public_results.revision;
    snapshot_release(s);
    return revision;
}

/* Writes the site once, and prints a line on it. */
static int write_site(struct server *server, const struct plan *plan, int64_t *revision) {
    struct site_count count;
    struct textbuf why = {0};
    int err = static_site_write(server, plan->slug, plan->base, plan->folder, &count, &why);
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

static void pause_ms(int ms) {
    for (; ms > 0 && !stopped; ms -= WATCH_EVERY_MS)
        (void)nanosleep(&(struct timespec){.tv_nsec = WATCH_EVERY_MS * 1000000L}, NULL);
}

/* A full disk or a second writer passes: a watch reports it and goes on. */
static void watch(struct server *server, const struct plan *plan, int64_t revision) {
    while (!stopped) {
        pause_ms(WATCH_EVERY_MS);
        if (!stopped && revision_of(server, plan->slug) != revision &&
            write_site(server, plan, &revision) != ERR_OK)
            pause_ms(RETRY_MS);
    }
}

static int publish(const struct plan *plan) {
    struct server *server = NULL;
    struct textbuf why = {0};
    int64_t revision = -1;
    int err = sodium_init() < 0 ? ERR_IO
                                : server_open(&site_app, plan->data_dir, plan->slug, &why, &server);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s\n", why.len > 0 ? textbuf_text(&why) : err_text(err));
    else
        err = write_site(server, plan, &revision);
    if (err == ERR_OK && plan->watch)
        watch(server, plan, revision);
    server_stop(server);
    textbuf_clear(&why);
    return exit_code(err == ERR_UNKNOWN ? ERR_INPUT : err);
}

static int run(const struct arguments *a) {
    const struct publish_options *o = a->options;
    const struct plan plan = {.data_dir = a->operands[0],
                              .slug = a->operands[1],
                              .folder = a->operands[2],
                              .base = o->base,
                              .watch = o->watch};
    if (plan.watch) {
        struct sigaction action = {.sa_handler = stop};
        (void)sigaction(SIGTERM, &action, NULL);
        (void)sigaction(SIGINT, &action, NULL);
    }
    return publish(&plan);
}

const struct command command_publish = {
    .name = "publish",
    .summary = "write the public pages and figures as a static site",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 3,
    .most = 3,
    .needs = "a data folder, a slug and a folder",
    .defaults = &(const struct publish_options){0},
    .size = sizeof(struct publish_options),
    .run = run,
};
