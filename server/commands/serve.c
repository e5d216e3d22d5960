/* SPDX-License-Identifier: MIT */
#include <malloc.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "commands/command.h"
#include "http/connections.h"
#include "http/http.h"
#include "system/hard_limits.h"
#include "system/notify.h"

enum { PER_ADDRESS_MAX = 1000000, PATIENCE_MIN = 2, PATIENCE_MAX = 3600 };

static const char help[] =
    "cairn serve DATA_DIR [--listen HOST:PORT] [--access-log on|off]\n"
    "                     [--tls-cert FILE --tls-key FILE] [--per-address N]\n"
    "                     [--proxy ADDRESS[,ADDRESS…]] [--patience SECONDS] [--backups FOLDER]\n"
    "\n"
    "Serves every event file of the folder; files that appear later are found by themselves.\n"
    "\n"
    "  --listen HOST:PORT   default 127.0.0.1:8080; port 0 takes a free one; an IPv6 address goes\n"
    "                       in brackets\n"
    "  --access-log on|off  a line on standard error for each request; default on\n"
    "  --tls-cert FILE      serve over TLS (1.2 or newer) with this certificate: a PEM file, the\n"
    "                       server's own certificate first, then those that vouch for it\n"
    "  --tls-key FILE       the certificate's private key, a PEM file without a password; both "
    "are\n"
    "                       read once, at the start\n"
    "\n"
    "  --per-address N      most connections from one address, event streams among them; 0 for as\n"
    "                       many as it likes; default 3000, and half of all at most\n"
    "  --proxy ADDRESSES    addresses that --per-address does not hold for, with commas between\n"
    "                       them: proxies, which bring a crowd each, and are believed when they\n"
    "                       say for whom they ask (X-Forwarded-For). Default: this machine's own\n"
    "  --patience SECONDS   how long the body of a request may take to come, from 2 on; its head\n"
    "                       has a quarter of that, the next request half; default 120. For lines\n"
    "                       slower than 300 kbit/s that send whole event folders: more\n"
    "  --backups FOLDER     where copies of the event files are made, so that the office is told\n"
    "                       how old the newest is\n"
    "\n"
    "Prints “listening on http://HOST:PORT/” when ready, with TLS “https”. SIGTERM or SIGINT\n"
    "ends it: what was acknowledged is on disk, and what waits is still written and answered.\n"
    "\n"
    "Exit status: 0; 2 for a wrong command line, certificate or key; 1 for a failure of the "
    "machine.\n";

/* Parts HOST:PORT. Returns false where it is none. */
static bool parse_listen(const char *text, char *host, size_t room, unsigned *port) {
    const char *colon = strrchr(text, ':');
    int64_t number;
    if (colon == NULL || decimal_parse_whole(colon + 1, 0, 65535, &number) != ERR_OK)
        return false;
    size_t len = (size_t)(colon - text);
    if (len >= 2 && text[0] == '[' && text[len - 1] == ']') {
        text++;
        len -= 2;
    }
    if (len == 0 || len >= room)
        return false;
    memcpy(host, text, len);
    host[len] = '\0';
    *port = (unsigned)number;
    return true;
}

/* A snapshot's blocks, some 100 KB each, come and go with every upload: given back to the system
 * and had anew, their pages would cost as much as the scoring. Larger blocks are rare (a table of
 * every test as one page) and go back at once, each by itself. */
static void keep_blocks(void) {
    (void)mallopt(M_MMAP_THRESHOLD, 256 << 10);
    (void)mallopt(M_TRIM_THRESHOLD, 1 << 20);
}

static int serve(const struct server_options *options) {
    struct server *server = NULL;
    struct textbuf why = {0};
    sigset_t ends;
    int got = 0;
    (void)sigemptyset(&ends);
    (void)sigaddset(&ends, SIGTERM);
    (void)sigaddset(&ends, SIGINT);
    /* Blocked before any thread starts, so that all inherit it and this one alone waits for it. */
    (void)pthread_sigmask(SIG_BLOCK, &ends, NULL);
    (void)signal(SIGPIPE, SIG_IGN);
    keep_blocks();
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    int err = server_start(options, &why, &server);
    if (err != ERR_OK) {
        bool ended = why.len > 0 && textbuf_text(&why)[why.len - 1] == '\n';
        (void)fprintf(stderr, "cairn serve: %s%s", textbuf_text(&why), ended ? "" : "\n");
        textbuf_clear(&why);
        return exit_code(err);
    }
    textbuf_clear(&why);
    bool brackets = strchr(options->host, ':') != NULL;
    (void)printf("listening on %s://%s%s%s:%u/\n", server_tls(server) ? "https" : "http",
                 brackets ? "[" : "", options->host, brackets ? "]" : "", server_port(server));
    (void)fflush(stdout);
    notify_manager("READY=1");
    (void)sigwait(&ends, &got);
    notify_manager("STOPPING=1");
    server_stop(server);
    return EXIT_GOOD;
}

/* Takes an option's value. Returns false where it is wrong, which is told. */
static bool take_option(struct server_options *options, char *host, size_t room, const char *name,
                        const char *value) {
    if (strcmp(name, "listen") == 0 && !parse_listen(value, host, room, &options->port)) {
        (void)usage_error(&command_serve, "--listen %s is no HOST:PORT", value);
        return false;
    }
    if (strcmp(name, "access-log") == 0) {
        if (strcmp(value, "on") != 0 && strcmp(value, "off") != 0) {
            (void)usage_error(&command_serve, "--access-log is on or off");
            return false;
        }
        options->access_log = strcmp(value, "on") == 0;
    }
    if (strcmp(name, "per-address") == 0) {
        int64_t number = 0;
        if (decimal_parse_whole(value, 0, PER_ADDRESS_MAX, &number) != ERR_OK) {
            (void)usage_error(&command_serve, "--per-address %s is no number up to %d", value,
                              PER_ADDRESS_MAX);
            return false;
        }
        options->per_address = (int)number;
    }
    if (strcmp(name, "patience") == 0) {
        int64_t seconds = 0;
        if (decimal_parse_whole(value, PATIENCE_MIN, PATIENCE_MAX, &seconds) != ERR_OK) {
            (void)usage_error(&command_serve, "--patience %s is no number from %d to %d", value,
                              PATIENCE_MIN, PATIENCE_MAX);
            return false;
        }
        options->patience_s = (unsigned)seconds;
    }
    if (strcmp(name, "proxy") == 0) {
        if (!connections_proxies_are_good(value)) {
            (void)usage_error(&command_serve, "--proxy %s is no list of addresses", value);
            return false;
        }
        options->proxies = value;
    }
    if (strcmp(name, "backups") == 0)
        options->backups = value;
    if (strcmp(name, "tls-cert") == 0)
        options->tls_cert = value;
    if (strcmp(name, "tls-key") == 0)
        options->tls_key = value;
    return true;
}

static int run(int argc, char **argv) {
    static const char *const names[] = {"listen",      "access-log", "tls-cert", "tls-key",
                                        "per-address", "proxy",      "patience", "backups"};
    struct options o;
    char host[256] = "127.0.0.1";
    struct server_options options = {.host = host,
                                     .port = 8080,
                                     .access_log = true,
                                     .program = "/proc/self/exe",
                                     .per_address = -1,
                                     .patience_s = LIMIT_BODY_SECONDS};
    options_init(&o, &command_serve, argc, argv);
    while (options_next(&o)) {
        if (strcmp(o.name, "help") == 0) {
            (void)fputs(help, stdout);
            return EXIT_GOOD;
        }
        size_t i = 0;
        while (i < sizeof names / sizeof names[0] && strcmp(o.name, names[i]) != 0)
            i++;
        if (i == sizeof names / sizeof names[0])
            return options_unknown(&o);
        const char *value = options_value(&o);
        if (value == NULL || !take_option(&options, host, sizeof host, names[i], value))
            return EXIT_INPUT;
    }
    if (o.operand_count != 1)
        return usage_error(&command_serve, "it needs a data folder");
    if ((options.tls_cert == NULL) != (options.tls_key == NULL))
        return usage_error(&command_serve, "--tls-cert and --tls-key go together");
    options.data_dir = o.operands[0];
    return serve(&options);
}

const struct command command_serve = {
    .name = "serve",
    .summary = "serve the events of a folder",
    .help = help,
    .run = run,
};
