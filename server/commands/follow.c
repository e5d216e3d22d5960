/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_file.h"
#include "remote/follower.h"
#include "remote/http_client.h"
#include "system/data_dir.h"
#include "system/files.h"

static const char about[] =
    "cairn follow URL DATA_DIR SLUG [options]\n"
    "\n"
    "Stands by: copies the facts of an event from a running server into DATA_DIR/SLUG.cairn as they\n"
    "come, keys (as hashes), what crews' codes are made from, notices, cases, numbers of\n"
    "revisions too. A server of that folder serves reads all the while, and refuses writes.\n"
    "\n"
    "To take over: end this command (Ctrl-C), stop that server, cairn promote, start it again,\n"
    "and let desks and spectators come to it: their keys are good there, what they send again\n"
    "counts once. What the first server took in its last second may not be there: cairn merge,\n"
    "when it comes back.\n";

struct follow_options {
    const char *key_file, *ca_file;
    int64_t every; /* seconds */
    bool once;
};

static const struct option_row rows[] = {
    {"key-file", OPTION_TEXT, "FILE",
     "an organiser's key; else in the environment variable CAIRN_KEY",
     .at = offsetof(struct follow_options, key_file)},
    {"every", OPTION_NUMBER, "SECONDS", "how often to ask, 1 to 3600; default 1",
     .at = offsetof(struct follow_options, every), .least = 1, .most = 3600},
    {"once", OPTION_FLAG, NULL, "ask once and end", .at = offsetof(struct follow_options, once)},
    {"ca", OPTION_TEXT, "FILE", "certificates to trust instead of the system's",
     .at = offsetof(struct follow_options, ca_file)},
    {0},
};

static const char notes[] =
    "The secret that notices are sealed with does not travel: copy DATA_DIR/SLUG.signing by hand.\n"
    "\n"
    "Exit status: 0 when ended; 2 where the server refuses, or the two have gone apart; 1 for a\n"
    "failure of the machine, with --once also for no answer.\n";

enum {
    ANSWER_MAX = 64 << 20,
    CONNECT_SECONDS = 10,
    SILENT_SECONDS = 15, /* a large event on a small machine takes its time */
    KEY_ROOM = 128,
    WAIT_MAX_SECONDS = 30 /* between tries while nobody answers */
};

static volatile sig_atomic_t ended;

static void on_signal(int number) {
    (void)number;
    ended = 1;
}

/* What is asked, and where. */
struct source {
    const char *url;
    size_t base; /* how much of it is scheme, host and port */
    const char *slug;
    struct http_client *client; /* with the key */
    bool proved;                /* a server that the key goes to has answered */
};

/* What an answer with another status than 200 means. Returns as `ask`. */
static int refused(const struct source *from, const struct http_answer *answer,
                   struct textbuf *why) {
    if (answer->location != NULL)
        textbuf_printf(why, "the server sends on to %s: give that address", answer->location);
    else if (answer->status == 401 || answer->status == 403)
        textbuf_puts(why, "the key is not taken; it takes an organiser's");
    else if (answer->status == 404)
        textbuf_printf(why, "there is no event “%s”", from->slug);
    else
        textbuf_printf(why, "it answers with %ld", answer->status);
    return answer->status == 401 || answer->status == 403 || answer->status == 404 ? EXIT_INPUT
                                                                                   : EXIT_MACHINE;
}

/* Asks for what is lacking. Returns EXIT_GOOD with the answer, for the caller to clear;
 * EXIT_MACHINE where a later try may do better, EXIT_INPUT where none will; `why` says why. */
static int ask(struct source *from, const struct facts_digest *digest, struct http_answer *answer,
               struct textbuf *why) {
    struct textbuf url = {0};
    enum http_result result = HTTP_FAILED;
    textbuf_add(&url, from->url, from->base);
    textbuf_printf(&url, "/api/v1/events/%s/facts/", from->slug);
    facts_digest_write(digest, &url);
    if (url.failed)
        textbuf_puts(why, err_text(ERR_NOMEM));
    else
        result = http_get(from->client, textbuf_text(&url), answer, why);
    textbuf_clear(&url);
    switch (result) {
    case HTTP_ANSWERED:
        from->proved = from->proved || answer->status == 200;
        return answer->status == 200 ? EXIT_GOOD : refused(from, answer, why);
    case HTTP_UNTRUSTED:
        textbuf_puts(why, ": its certificate is not to be trusted (--ca names others to trust)");
        /* Once it was trusted, somebody else has come in between, and may go away. */
        return from->proved ? EXIT_MACHINE : EXIT_INPUT;
    case HTTP_TOO_LARGE:
    case HTTP_FAILED:
        return EXIT_INPUT;
    case HTTP_NO_ANSWER:
    case HTTP_NO_TLS:
    case HTTP_NO_HTTP:
    case HTTP_STOPPED:
        break;
    }
    return EXIT_MACHINE;
}

/* Sleeps, unless a signal comes. */
static void wait_for(int64_t seconds) {
    struct timespec left = {.tv_sec = (time_t)seconds};
    while (!ended && nanosleep(&left, &left) != 0 && errno == EINTR)
        continue;
}

/* One question and what comes of it. Returns as `ask`. */
static int follow_once(struct source *from, struct follower *f, struct textbuf *why) {
    struct http_answer answer = {0};
    struct facts_digest digest;
    struct follower_news news = {0};
    int code = EXIT_GOOD;
    int err = follower_digest(f, &digest, why);
    if (err == ERR_OK)
        code = ask(from, &digest, &answer, why);
    if (err == ERR_OK && code == EXIT_GOOD) {
        err = follower_take(f, answer.body == NULL ? "" : answer.body, answer.len, &news, why);
        if (err == ERR_OK && news.anything) {
            (void)printf("%s: %d readings, %d decisions, %d notices, %d cases, %d keys; revision "
                         "%lld\n",
                         from->slug, news.readings, news.decisions, news.notices, news.cases,
                         news.keys, (long long)news.revision);
            (void)fflush(stdout);
        }
    }
    http_answer_clear(&answer);
    if (err == ERR_OK)
        return code;
    if (why->len == 0)
        textbuf_puts(why, err_text(err));
    return err == ERR_INPUT ? EXIT_INPUT : EXIT_MACHINE;
}

static int follow(struct source *from, struct follower *f, int64_t every, bool once) {
    struct textbuf why = {0};
    int64_t wait = every;
    bool told = false;
    int code = EXIT_GOOD;
    while (!ended) {
        textbuf_reset(&why);
        code = follow_once(from, f, &why);
        if (code == EXIT_INPUT || once)
            break;
        if (code == EXIT_GOOD) {
            if (told)
                (void)fprintf(stderr, "cairn follow: %s: answers again\n", from->url);
            told = false;
            wait = every;
        } else {
            if (!told)
                (void)fprintf(stderr, "cairn follow: %s: %s; trying on\n", from->url,
                              textbuf_text(&why));
            told = true;
            wait = wait * 2 > WAIT_MAX_SECONDS ? WAIT_MAX_SECONDS : wait * 2;
        }
        wait_for(wait > every ? wait : every);
    }
    if (code != EXIT_GOOD && !(ended && code == EXIT_MACHINE))
        (void)fprintf(stderr, "cairn follow: %s: %s\n", from->url, textbuf_text(&why));
    textbuf_clear(&why);
    return ended && code == EXIT_MACHINE ? EXIT_GOOD : code;
}

/* The key of a file's first line, or of the environment. */
static bool read_key(const char *file, char key[KEY_ROOM]) {
    char *text = NULL;
    size_t len = 0;
    const char *from = getenv("CAIRN_KEY");
    if (file != NULL)
        from = file_read(file, &text, &len) == ERR_OK ? text : NULL;
    size_t used = from == NULL ? 0 : strcspn(from, " \t\r\n");
    bool good = used > 0 && used < KEY_ROOM;
    if (good) {
        memcpy(key, from, used);
        key[used] = '\0';
    }
    if (text != NULL)
        sodium_memzero(text, len);
    free(text);
    return good;
}

static void catch_signals(void) {
    /* Without SA_RESTART: a signal ends a wait. */
    struct sigaction action = {.sa_handler = on_signal};
    (void)sigaction(SIGINT, &action, NULL);
    (void)sigaction(SIGTERM, &action, NULL);
    (void)signal(SIGPIPE, SIG_IGN);
}

static int stand_by(struct source *from, const struct http_options *how, const char *data_dir,
                    const struct follow_options *o) {
    struct textbuf why = {0};
    int err = http_client_new(how, &from->client, &why);
    if (err == ERR_IO) {
        (void)fprintf(stderr, "cairn follow: %s\n", textbuf_text(&why));
        textbuf_clear(&why);
        return EXIT_MACHINE;
    }
    textbuf_clear(&why);
    struct follower *f = err == ERR_OK ? follower_new(data_dir, from->slug) : NULL;
    int code = f == NULL ? exit_code(ERR_NOMEM) : follow(from, f, o->every, o->once);
    follower_free(f);
    http_client_free(from->client);
    return code;
}

static int run(const struct arguments *a) {
    const struct follow_options *o = a->options;
    struct source from = {
        .url = a->operands[0], .base = http_base_length(a->operands[0]), .slug = a->operands[2]};
    char key[KEY_ROOM];
    const char *path = from.url + from.base;
    if (from.base == 0 || (*path != '\0' && strcmp(path, "/") != 0))
        return usage_error(&command_follow, "%s is no address such as https://10.0.0.2:8443",
                           from.url);
    int code = check_slug(&command_follow, from.slug);
    if (code != EXIT_GOOD)
        return code;
    if (sodium_init() < 0)
        return exit_code(ERR_IO);
    if (!read_key(o->key_file, key))
        return usage_error(&command_follow, "it needs a key, by --key-file or in CAIRN_KEY");
    const struct http_options how = {.key = key,
                                     .ca_file = o->ca_file,
                                     .answer_max = ANSWER_MAX,
                                     .connect_seconds = CONNECT_SECONDS,
                                     .silent_seconds = SILENT_SECONDS,
                                     .stop = &ended};
    (void)mkdir(a->operands[1], 0750); /* where it cannot be made, opening the file says so */
    catch_signals();
    code = stand_by(&from, &how, a->operands[1], o);
    sodium_memzero(key, sizeof key);
    return code;
}

const struct command command_follow = {
    .name = "follow",
    .summary = "stand by for a server: copy its facts as they come",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 3,
    .most = 3,
    .needs = "an address, a data folder and a slug",
    .defaults = &(const struct follow_options){.every = 1},
    .size = sizeof(struct follow_options),
    .run = run,
};
