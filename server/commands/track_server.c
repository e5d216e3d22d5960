/* SPDX-License-Identifier: MIT */
#include "commands/track_server.h"

#include <errno.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "commands/commands.h"
#include "event/event.h"
#include "remote/device_form.h"
#include "remote/delivery.h"
#include "remote/event_address.h"
#include "remote/http_client.h"
#include "remote/sent_file.h"
#include "system/files.h"
#include "system/problem_lines.h"

enum {
    ANSWER_MAX = 32 << 20,
    CONNECT_SECONDS = 20,
    SILENT_SECONDS = 60,
    BATCH = 200,
    TRIES = 10 /* of a batch: about five minutes */
};

struct track_server {
    struct event_address address;
    char *key;
    struct http_client *client;
};

static const volatile sig_atomic_t never = 0;

bool track_server_is_address(const char *operand) {
    return strncmp(operand, "http://", 7) == 0 || strncmp(operand, "https://", 8) == 0;
}

void track_server_close(struct track_server *s) {
    if (s == NULL)
        return;
    http_client_free(s->client);
    event_key_free(s->key);
    event_address_clear(&s->address);
    free(s);
}

/* The key: of the file, of the address, of the environment. Returns an exit code. */
static int find_key(struct track_server *s, const char *key_file) {
    const char *environment = getenv("CAIRN_KEY");
    char *text = NULL;
    size_t len = 0;
    if (key_file == NULL && s->address.key != NULL) {
        s->key = s->address.key;
        s->address.key = NULL;
        return EXIT_GOOD;
    }
    if (key_file == NULL && (environment == NULL || *environment == '\0'))
        return usage_error(&command_track, "an organiser's key is needed: --key-file, the link, or "
                                           "CAIRN_KEY");
    int err = key_file == NULL ? ERR_OK : file_read(key_file, &text, &len);
    if (err == ERR_UNKNOWN || err == ERR_IO) {
        (void)fprintf(stderr, "cairn track: %s cannot be read: %s\n", key_file, strerror(errno));
        return EXIT_INPUT;
    }
    if (err == ERR_OK)
        err = event_key_parse(key_file == NULL ? environment : text, &s->key);
    if (text != NULL)
        sodium_memzero(text, len);
    free(text);
    if (err == ERR_SYNTAX)
        return usage_error(&command_track, "%s holds no key",
                           key_file == NULL ? "CAIRN_KEY" : key_file);
    return exit_code(err);
}

/* Asks for a document of the event: "rules" or "entries". Returns an exit code. */
static int ask(struct track_server *s, const char *document, struct http_answer *answer) {
    struct textbuf url = {0};
    struct textbuf why = {0};
    int code = EXIT_GOOD;
    textbuf_add(&url, s->address.readings, strlen(s->address.readings) - strlen("readings"));
    textbuf_puts(&url, document);
    enum http_result result = http_get(s->client, textbuf_text(&url), answer, &why);
    if (result != HTTP_ANSWERED) {
        (void)fprintf(stderr, "cairn track: %s\n", textbuf_text(&why));
        code = EXIT_MACHINE;
    } else if (answer->status == 401 || answer->status == 403) {
        (void)fprintf(stderr, "cairn track: the server does not take this key: an organiser's is "
                              "needed\n");
        code = EXIT_MACHINE;
    } else if (answer->status != 200 || answer->body == NULL) {
        (void)fprintf(stderr, "cairn track: the server answers %ld when asked for the %s\n",
                      answer->status, document);
        code = EXIT_MACHINE;
    }
    textbuf_clear(&url);
    textbuf_clear(&why);
    return code;
}

static int ask_event(struct track_server *s, struct model **model) {
    struct http_answer rules = {0};
    struct http_answer entries = {0};
    struct problems problems = {0};
    int code = ask(s, "rules", &rules);
    if (code == EXIT_GOOD)
        code = ask(s, "entries", &entries);
    if (code == EXIT_GOOD) {
        const struct event_files files = {.rules = {rules.body, rules.len},
                                          .entries = {entries.body, entries.len}};
        code = exit_code(model_read(&files, &problems, model));
        print_problems(&problems);
    }
    problems_clear(&problems);
    http_answer_clear(&rules);
    http_answer_clear(&entries);
    return code;
}

int track_server_open(char *address, const char *key_file, const char *ca_file,
                      struct track_server **out, struct model **model) {
    struct track_server *s = calloc(1, sizeof *s);
    struct textbuf why = {0};
    *out = s;
    if (s == NULL)
        return exit_code(ERR_NOMEM);
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    int err = event_address_parse(address, &s->address, &why);
    /* The arguments of a process can be read by others as long as it runs. */
    char *fragment = strchr(address, '#');
    if (fragment != NULL)
        sodium_memzero(fragment, strlen(fragment));
    int code =
        err == ERR_INPUT ? usage_error(&command_track, "%s", textbuf_text(&why)) : exit_code(err);
    textbuf_reset(&why);
    if (code == EXIT_GOOD)
        code = find_key(s, key_file);
    if (code == EXIT_GOOD) {
        const struct http_options how = {.key = s->key,
                                         .ca_file = ca_file,
                                         .answer_max = ANSWER_MAX,
                                         .connect_seconds = CONNECT_SECONDS,
                                         .silent_seconds = SILENT_SECONDS};
        err = http_client_new(&how, &s->client, &why);
        if (err == ERR_IO)
            (void)fprintf(stderr, "cairn track: %s\n", textbuf_text(&why));
        code = err == ERR_IO ? EXIT_MACHINE : exit_code(err);
    }
    textbuf_clear(&why);
    return code == EXIT_GOOD ? ask_event(s, model) : code;
}

int track_server_send(struct track_server *s, const struct textbuf *csv) {
    static const struct device_form as_ours = DEVICE_FORM_DEFAULTS;
    const struct reading_file_options how = {.form = &as_ours};
    struct reading_file file = {0};
    struct problems problems = {0};
    struct textbuf note = {0};
    struct sent_file *sent = NULL;
    struct progress progress;
    int err = reading_file_read("tracks", textbuf_text(csv), csv->len, &how, &problems, &file);
    if (err == ERR_OK)
        err = sent_file_open(NULL, s->address.readings, &sent, &note);
    int code = exit_code(err);
    if (code == EXIT_GOOD) {
        progress_init(&progress, file.count, true);
        struct delivery delivery = {.command = "cairn track",
                                    .name = "tracks",
                                    .file = &file,
                                    .client = s->client,
                                    .url = s->address.readings,
                                    .sent_file = sent,
                                    .progress = &progress,
                                    .stop = &never,
                                    .batch = BATCH,
                                    .tries = TRIES};
        enum delivery_end end = delivery_run(&delivery);
        (void)printf("%zu readings new to the server, %zu there already, %zu refused\n",
                     delivery.accepted, delivery.duplicates, progress.refused);
        code = end != DELIVERY_DONE ? EXIT_MACHINE : progress.refused > 0 ? EXIT_INPUT : EXIT_GOOD;
    }
    sent_file_free(sent);
    reading_file_clear(&file);
    problems_clear(&problems);
    textbuf_clear(&note);
    return code;
}
