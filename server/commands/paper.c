/* SPDX-License-Identifier: MIT */
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "commands/commands.h"
#include "commands/desk_key.h"
#include "commands/event_file.h"
#include "format/percent.h"
#include "http/server.h"
#include "site/render.h"
#include "site/routes.h"
#include "system/words.h"

static const char about[] =
    "cairn paper DATA_DIR SLUG WHAT [options] FILE\n"
    "\n"
    "Writes a paper of an event as PDF to FILE, for the printer and the noticeboard. Works while\n"
    "a server serves the same folder. WHAT is\n"
    "\n"
    "  notice N       a notice with all its tables, by its number\n"
    "  standings      the standings as they are\n"
    "  starts DAY     the start list of a day, with room for remarks\n"
    "  card CAR       a car's card, with the reason of every figure\n"
    "  control POINT  a control sheet: who is expected, with boxes to write in, for the day the\n"
    "                 laptop dies\n"
    "  desk POINT     for a timekeeper: the link to the desk as a QR code, the three keys, what to do\n"
    "                 when something is wrong, and the control sheet. Makes a key for the point\n"
    "  prizes         the prizes as they are read out\n"
    "  codes          the codes of the crews, a strip each to cut off and hand out\n";

struct paper_options {
    const char *by, *class_id, *after, *base;
    const char *key, *phone, *lang;
    bool as_public;
};

static const struct option_row rows[] = {
    {"by", OPTION_TEXT, "WHAT",
     "standings by overall (default), class, category, group, day, test or team",
     .at = offsetof(struct paper_options, by)},
    {"class", OPTION_TEXT, "ID", "standings of one class",
     .at = offsetof(struct paper_options, class_id)},
    {"after", OPTION_TEXT, "POINT", "standings or card up to this point of the route",
     .at = offsetof(struct paper_options, after)},
    {"public", OPTION_FLAG, NULL,
     "as the public sees the event, without what is hidden still; not for control\n"
     "sheets, prizes, codes and --by test",
     .at = offsetof(struct paper_options, as_public)},
    {"address", OPTION_TEXT, "URL",
     "how the public reaches the server, https://HOST: printed with its QR code",
     .at = offsetof(struct paper_options, base)},
    {"key", OPTION_TEXT, "KEY",
     "desk: the key in the link, in place of a new one; a timekeeper's, for that point",
     .at = offsetof(struct paper_options, key)},
    {"phone", OPTION_TEXT, "NUMBER", "desk: the office's telephone; else a line to write it on",
     .at = offsetof(struct paper_options, phone)},
    {"lang", OPTION_TEXT, "CODE", "desk: in en (default), de, fr or it",
     .at = offsetof(struct paper_options, lang)},
    {0},
};

static const char notes[] =
    "The same facts give the same file on the same machine. Letters that no font of this machine\n"
    "has are counted on standard error; a package such as fonts-noto-cjk adds what is missing.\n"
    "Needs the libraries cairo and pango (libpangocairo-1.0-0).\n"
    "\n"
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

static void write_parameter(struct textbuf *b, const char *name, const char *value) {
    if (value == NULL)
        return;
    textbuf_printf(b, "%c%s=", strchr(textbuf_text(b), '?') == NULL ? '?' : '&', name);
    percent_write(b, value, "");
}

/* What a paper is called here and in the API, and which options go with it. */
static const struct printed {
    const char *what, *route;
    bool named, grouped, cut;
} papers[] = {{"notice", "notices/", true, false, false},
              {"standings", "standings", false, true, true},
              {"starts", "starts/", true, false, false},
              {"card", "cars/", true, false, true},
              {"control", "control?point=", true, false, false},
              {"desk", "desk?point=", true, false, false},
              {"prizes", "prizes", false, false, false},
              {"codes", "codes", false, false, false}};

static const struct printed *find_paper(const char *what) {
    for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
        if (strcmp(papers[i].what, what) == 0)
            return &papers[i];
    }
    return NULL;
}

static bool is_desk(const struct printed *paper) {
    return strcmp(paper->what, "desk") == 0;
}

/* Whether the options of a desk's sheet are there, and for no other paper. Returns an exit code. */
static int check_desk(const struct paper_options *o, bool desk) {
    enum lang lang;
    if (!desk && (o->key != NULL || o->phone != NULL || o->lang != NULL))
        return usage_error(&command_paper, "--key, --phone and --lang go with desk");
    if (desk && (o->base == NULL || !key_base_is_good(o->base)))
        return usage_error(&command_paper,
                           "desk needs --address, the server's, as https://host:port");
    if (desk && o->as_public)
        return usage_error(&command_paper, "--public does not go with desk");
    if (o->lang != NULL && lang_parse(o->lang, &lang) != ERR_OK)
        return usage_error(&command_paper, "--lang must be en, de, fr or it");
    return EXIT_GOOD;
}

/* Whether the command line fits the paper. Returns an exit code. */
static int check_arguments(const struct arguments *a, const struct printed *paper) {
    const struct paper_options *o = a->options;
    if (paper == NULL)
        return usage_error(&command_paper, "it needs %s", command_paper.needs);
    if (a->count != (paper->named ? 5 : 4))
        return usage_error(&command_paper, "%s needs %sa file to write to", paper->what,
                           paper->named ? "to know which, and " : "");
    if (!paper->grouped && (o->by != NULL || o->class_id != NULL))
        return usage_error(&command_paper, "--by and --class go with standings");
    if (!paper->cut && o->after != NULL)
        return usage_error(&command_paper, "--after goes with standings and card");
    int code = check_desk(o, is_desk(paper));
    return code == EXIT_GOOD ? check_slug(&command_paper, a->operands[1]) : code;
}

/* The paper's address in the API. Returns an exit code. */
static int write_address(struct textbuf *b, const struct arguments *a) {
    const struct paper_options *o = a->options;
    const struct printed *paper = find_paper(a->operands[2]);
    int code = check_arguments(a, paper);
    if (code != EXIT_GOOD)
        return code;
    textbuf_printf(b, "/api/v1/events/%s/paper/%s", a->operands[1], paper->route);
    const char *name = paper->named ? a->operands[3] : "";
    if (strchr(paper->route, '?') != NULL)
        percent_write(b, name, "");
    else if (name[strspn(name, "0123456789")] == '\0')
        textbuf_puts(b, name);
    else
        return usage_error(&command_paper, "%s goes by number, not by “%s”", paper->what, name);
    write_parameter(b, "by", o->by);
    write_parameter(b, "class", o->class_id);
    write_parameter(b, "after", o->after);
    write_parameter(b, "phone", o->phone);
    write_parameter(b, "lang", o->lang);
    return EXIT_GOOD;
}

static int save(const char *path, const struct textbuf *pdf) {
    FILE *file = fopen(path, "wb");
    bool good = file != NULL && fwrite(pdf->bytes, 1, pdf->len, file) == pdf->len;
    if (file != NULL && fclose(file) != 0)
        good = false;
    if (!good)
        perror(path);
    return good ? EXIT_GOOD : EXIT_MACHINE;
}

static int print_paper(const struct arguments *a, const char *address, const char *desk_key) {
    const struct paper_options *options = a->options;
    struct server *server = NULL;
    struct textbuf b = {0};
    int code = EXIT_GOOD;
    int err = sodium_init() < 0
                  ? ERR_IO
                  : server_open(&site_app, a->operands[0], a->operands[1], &b, &server);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s\n", b.len > 0 ? textbuf_text(&b) : err_text(err));
        code = exit_code(err);
    } else if (served_events_find(server_events(server), a->operands[1]) == NULL) {
        (void)fprintf(stderr, "cairn: there is no event “%s” in %s\n", a->operands[1],
                      a->operands[0]);
        code = EXIT_INPUT;
    } else {
        unsigned status =
            render_paper(server, address, options->as_public ? ROLE_PUBLIC : ROLE_ORGANISER,
                         options->base, desk_key, &b);
        if (status == MHD_HTTP_OK) {
            code = save(a->operands[a->count - 1], &b);
        } else {
            (void)fprintf(stderr, "cairn: %s\n",
                          b.len > 0 ? textbuf_text(&b) : "the public has no such paper");
            code = status >= 500 ? EXIT_MACHINE : EXIT_INPUT;
        }
    }
    server_stop(server);
    textbuf_clear(&b);
    return code;
}

/* Prints a desk's sheet with the key that was given, or with a new one, which is taken back where
 * no paper comes of it. */
static int print_desk(const struct arguments *a, const char *address) {
    const struct paper_options *o = a->options;
    char **names = a->operands;
    char key[KEY_TEXT_LEN + 1] = "";
    int64_t id = 0;
    if (sodium_init() < 0)
        return EXIT_MACHINE;
    int code = o->key != NULL ? desk_key_check(names[0], names[1], names[3], o->key)
                              : desk_key_make(names[0], names[1], names[3], key, &id);
    if (code == EXIT_GOOD) {
        code = print_paper(a, address, o->key != NULL ? o->key : key);
        if (code != EXIT_GOOD && o->key == NULL)
            (void)desk_key_revoke(names[0], names[1], id);
    }
    sodium_memzero(key, sizeof key);
    return code;
}

static int run(const struct arguments *a) {
    struct textbuf address = {0};
    int code = write_address(&address, a);
    if (code == EXIT_GOOD)
        code = is_desk(find_paper(a->operands[2])) ? print_desk(a, textbuf_text(&address))
                                                   : print_paper(a, textbuf_text(&address), NULL);
    textbuf_clear(&address);
    return code;
}

const struct command command_paper = {
    .name = "paper",
    .summary = "write notices, lists, cards and control sheets as PDF",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 3,
    .most = 5,
    .needs = "a data folder, a slug, what to print and a file",
    .defaults = &(const struct paper_options){0},
    .size = sizeof(struct paper_options),
    .run = run,
};
