/* SPDX-License-Identifier: MIT */
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "commands/commands.h"
#include "http/connections.h"
#include "http/server.h"
#include "site/routes.h"
#include "system/hard_limits.h"
#include "system/heap.h"
#include "system/notify.h"

enum { PER_ADDRESS_MAX = 1000000, PATIENCE_MIN = 2, PATIENCE_MAX = 3600 };

static const char about[] =
    "cairn serve DATA_DIR [--listen HOST:PORT] [--access-log on|off]\n"
    "                     [--tls-cert FILE --tls-key FILE] [--per-address N]\n"
    "                     [--proxy ADDRESS[,ADDRESS…]] [--patience SECONDS] [--backups FOLDER]\n"
    "\n"
    "Serves every event file of the folder; files that appear later are found by themselves.\n";

struct serve_options {
    char host[256];
    unsigned port;
    int access_log; /* of switches[] */
    const char *tls_cert, *tls_key;
    int64_t per_address; /* -1 for the default */
    const char *proxies;
    int64_t patience_s;
    const char *backups;
};

static const char *const switches[] = {"off", "on", NULL};

/* Parts HOST:PORT. Returns false where it is none. */
static bool parse_listen(const char *text, char *host, size_t size, unsigned *port) {
    const char *colon = strrchr(text, ':');
    int64_t number;
    if (colon == NULL || decimal_parse_whole(colon + 1, 0, 65535, &number) != ERR_OK)
        return false;
    size_t len = (size_t)(colon - text);
    if (len >= 2 && text[0] == '[' && text[len - 1] == ']') {
        text++;
        len -= 2;
    }
    if (len == 0 || len >= size)
        return false;
    memcpy(host, text, len);
    host[len] = '\0';
    *port = (unsigned)number;
    return true;
}

static int take_listen(void *options, const char *name, char *value, struct textbuf *why) {
    struct serve_options *o = options;
    (void)name;
    textbuf_printf(why, " %s is no HOST:PORT", value);
    return parse_listen(value, o->host, sizeof o->host, &o->port) ? ERR_OK : ERR_INPUT;
}

static int take_proxies(void *options, const char *name, char *value, struct textbuf *why) {
    struct serve_options *o = options;
    (void)name;
    textbuf_printf(why, " %s is no list of addresses", value);
    o->proxies = value;
    return connections_proxies_are_good(value) ? ERR_OK : ERR_INPUT;
}

static const struct option_row rows[] = {
    {"listen", OPTION_TAKEN, "HOST:PORT",
     "default 127.0.0.1:8080; port 0 takes a free one; an IPv6 address goes\n"
     "in brackets",
     .take = take_listen},
    {"access-log", OPTION_CHOICE, "on|off", "a line on standard error for each request; default on",
     .at = offsetof(struct serve_options, access_log), .choices = switches},
    {"tls-cert", OPTION_TEXT, "FILE",
     "serve over TLS (1.2 or newer) with this certificate: a PEM file, the\n"
     "server's own certificate first, then those that vouch for it",
     .at = offsetof(struct serve_options, tls_cert)},
    {"tls-key", OPTION_TEXT, "FILE",
     "the certificate's private key, a PEM file without a password; both are\n"
     "read once, at the start",
     .at = offsetof(struct serve_options, tls_key)},
    {"per-address", OPTION_NUMBER, "N",
     "most connections from one address, event streams among them; 0 for as\n"
     "many as it likes; default 3000, and half of all at most",
     .at = offsetof(struct serve_options, per_address), .least = 0, .most = PER_ADDRESS_MAX},
    {"proxy", OPTION_TAKEN, "ADDRESSES",
     "addresses that --per-address does not hold for, with commas between\n"
     "them: proxies, which bring a crowd each, and are believed when they\n"
     "say for whom they ask (X-Forwarded-For). Default: this machine's own",
     .take = take_proxies},
    {"patience", OPTION_NUMBER, "SECONDS",
     "how long the body of a request may take to come, from 2 on; its head\n"
     "has a quarter of that, the next request half; default 120. For lines\n"
     "slower than 300 kbit/s that send whole event folders: more",
     .at = offsetof(struct serve_options, patience_s), .least = PATIENCE_MIN, .most = PATIENCE_MAX},
    {"backups", OPTION_TEXT, "FOLDER",
     "where copies of the event files are made, so that the office is told\n"
     "how old the newest is",
     .at = offsetof(struct serve_options, backups)},
    {0},
};

static const char notes[] =
    "Prints “listening on http://HOST:PORT/” when ready, with TLS “https”. SIGTERM or SIGINT\n"
    "ends it: what was acknowledged is on disk, and what waits is still written and answered.\n"
    "\n"
    "Exit status: 0; 2 for a wrong command line, certificate or key; 1 for a failure of the machine.\n";

static int serve(const struct server_options *options) {
    struct server *server = NULL;
    struct textbuf why = {0};
    sigset_t ends;
    int got = 0;
    (void)sigemptyset(&ends);
    (void)sigaddset(&ends, SIGTERM);
    (void)sigaddset(&ends, SIGINT);
    /* Blocked before any thread starts, so that all inherit it: sigwait below gets them. */
    (void)pthread_sigmask(SIG_BLOCK, &ends, NULL);
    (void)signal(SIGPIPE, SIG_IGN);
    heap_keep_blocks();
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    int err = server_start(&site_app, options, &why, &server);
    if (err != ERR_OK) {
        bool ended = why.len > 0 && textbuf_text(&why)[why.len - 1] == '\n';
        (void)fprintf(stderr, "cairn serve: %s%s", textbuf_text(&why), ended ? "" : "\n");
        textbuf_clear(&why);
        return exit_code(err);
    }
    textbuf_clear(&why);
    bool brackets = strchr(options->host, ':') != NULL;
    (void)printf("listening on %s://%s%s%s:%u/\n", options->tls_cert != NULL ? "https" : "http",
                 brackets ? "[" : "", options->host, brackets ? "]" : "", server_port(server));
    (void)fflush(stdout);
    notify_manager("READY=1");
    (void)sigwait(&ends, &got);
    notify_manager("STOPPING=1");
    server_stop(server);
    return EXIT_GOOD;
}

static int run(const struct arguments *a) {
    const struct serve_options *o = a->options;
    if ((o->tls_cert == NULL) != (o->tls_key == NULL))
        return usage_error(&command_serve, "--tls-cert and --tls-key go together");
    return serve(&(const struct server_options){.data_dir = a->operands[0],
                                                .host = o->host,
                                                .port = o->port,
                                                .access_log = o->access_log != 0,
                                                .tls_cert = o->tls_cert,
                                                .tls_key = o->tls_key,
                                                .program = "/proc/self/exe",
                                                .per_address = (int)o->per_address,
                                                .proxies = o->proxies,
                                                .patience_s = (unsigned)o->patience_s,
                                                .backups = o->backups});
}

const struct command command_serve = {
    .name = "serve",
    .summary = "serve the events of a folder",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 1,
    .needs = "a data folder",
    .defaults = &(const struct serve_options){.host = "127.0.0.1",
                                              .port = 8080,
                                              .access_log = 1,
                                              .per_address = -1,
                                              .patience_s = LIMIT_BODY_SECONDS},
    .size = sizeof(struct serve_options),
    .run = run,
};
