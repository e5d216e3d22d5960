/* SPDX-License-Identifier: MIT */
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "decimal.h"
#include "err.h"
#include "http.h"

static const char help[] =
    "cairn serve DATA_DIR [--listen HOST:PORT] [--access-log on|off]\n"
    "\n"
    "Serves every event file of the folder; files that appear later are found by themselves.\n"
    "\n"
    "  --listen HOST:PORT   default 127.0.0.1:8080; port 0 takes a free one; an IPv6 address goes\n"
    "                       in brackets\n"
    "  --access-log on|off  a line on standard error for each request; default on\n"
    "\n"
    "Prints “listening on http://HOST:PORT/” when ready. SIGTERM or SIGINT ends it: what was\n"
    "acknowledged is on disk, and what waits is still written and answered.\n"
    "\n"
    "Exit status: 0; 2 for a wrong command line; 1 for a failure of the machine.\n";

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

static int serve(const char *data_dir, const char *host, unsigned port, bool access_log) {
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
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    int err = server_start(data_dir, host, port, access_log, &why, &server);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn serve: %s\n", textbuf_text(&why));
        textbuf_clear(&why);
        return exit_code(err);
    }
    textbuf_clear(&why);
    bool brackets = strchr(host, ':') != NULL;
    (void)printf("listening on http://%s%s%s:%u/\n", brackets ? "[" : "", host, brackets ? "]" : "",
                 server_port(server));
    (void)fflush(stdout);
    (void)sigwait(&ends, &got);
    server_stop(server);
    return EXIT_GOOD;
}

static int run(int argc, char **argv) {
    struct options o;
    char host[256] = "127.0.0.1";
    unsigned port = 8080;
    bool access_log = true;
    options_init(&o, &command_serve, argc, argv);
    while (options_next(&o)) {
        const char *name = o.name;
        if (strcmp(name, "help") == 0) {
            (void)fputs(help, stdout);
            return EXIT_GOOD;
        }
        bool listen = strcmp(name, "listen") == 0;
        if (!listen && strcmp(name, "access-log") != 0)
            return options_unknown(&o);
        const char *value = options_value(&o);
        if (value == NULL)
            return EXIT_INPUT;
        if (listen && !parse_listen(value, host, sizeof host, &port))
            return usage_error(&command_serve, "--listen %s is no HOST:PORT", value);
        if (!listen && strcmp(value, "on") != 0 && strcmp(value, "off") != 0)
            return usage_error(&command_serve, "--access-log is on or off");
        if (!listen)
            access_log = strcmp(value, "on") == 0;
    }
    if (o.operand_count != 1)
        return usage_error(&command_serve, "it needs a data folder");
    return serve(o.operands[0], host, port, access_log);
}

const struct command command_serve = {
    .name = "serve",
    .summary = "serve the events of a folder",
    .help = help,
    .run = run,
};
