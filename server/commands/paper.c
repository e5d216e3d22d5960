/* SPDX-License-Identifier: MIT */
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "commands/command.h"
#include "http/http.h"
#include "system/data_dir.h"

static const char help[] =
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
    "  prizes         the prizes as they are read out\n"
    "  codes          the codes of the crews, a strip each to cut off and hand out\n"
    "\n"
    "  --by WHAT      standings by overall (default), class, category, day, test or team\n"
    "  --class ID     standings of one class\n"
    "  --after POINT  standings or card up to this point of the route\n"
    "  --public       as the public sees the event, without what is hidden still; not for control\n"
    "                 sheets, prizes, codes and --by test\n"
    "  --address URL  how the public reaches the server, https://HOST: printed with its QR code\n"
    "\n"
    "The same facts give the same file on the same machine. Letters that no font of this machine\n"
    "has are counted on standard error; a package such as fonts-noto-cjk adds what is missing.\n"
    "Needs the libraries cairo and pango (libpangocairo-1.0-0).\n"
    "\n"
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

struct paper_options {
    const char *by, *class_id, *after, *base;
    bool as_public, wants_help;
};

static int parse(struct options *o, struct paper_options *out) {
    while (options_next(o)) {
        bool *flag = strcmp(o->name, "help") == 0     ? &out->wants_help
                     : strcmp(o->name, "public") == 0 ? &out->as_public
                                                      : NULL;
        const char **value = strcmp(o->name, "by") == 0        ? &out->by
                             : strcmp(o->name, "class") == 0   ? &out->class_id
                             : strcmp(o->name, "after") == 0   ? &out->after
                             : strcmp(o->name, "address") == 0 ? &out->base
                                                               : NULL;
        if (o->is_short || (flag == NULL && value == NULL))
            return options_unknown(o);
        if (flag != NULL) {
            if (options_no_value(o) != EXIT_GOOD)
                return EXIT_INPUT;
            *flag = true;
        } else if ((*value = options_value(o)) == NULL) {
            return EXIT_INPUT;
        }
    }
    return EXIT_GOOD;
}

static void write_escaped(struct textbuf *b, const char *text) {
    for (; *text != '\0'; text++)
        textbuf_printf(b, "%%%02X", (unsigned char)*text);
}

static void write_parameter(struct textbuf *b, const char *name, const char *value) {
    if (value == NULL)
        return;
    textbuf_printf(b, "%c%s=", strchr(textbuf_text(b), '?') == NULL ? '?' : '&', name);
    write_escaped(b, value);
}

/* The paper's address in the API. Returns an exit code. */
static int write_address(struct textbuf *b, const struct options *o,
                         const struct paper_options *options) {
    static const struct {
        const char *what, *route;
        bool named, grouped, cut;
    } papers[] = {{"notice", "notices/", true, false, false},
                  {"standings", "standings", false, true, true},
                  {"starts", "starts/", true, false, false},
                  {"card", "cars/", true, false, true},
                  {"control", "control?point=", true, false, false},
                  {"prizes", "prizes", false, false, false},
                  {"codes", "codes", false, false, false}};
    const char *what = o->operand_count > 2 ? o->operands[2] : "";
    for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
        if (strcmp(papers[i].what, what) != 0)
            continue;
        if (o->operand_count != (papers[i].named ? 5 : 4))
            return usage_error(o->command, "%s needs %sa file to write to", what,
                               papers[i].named ? "to know which, and " : "");
        if (!papers[i].grouped && (options->by != NULL || options->class_id != NULL))
            return usage_error(o->command, "--by and --class go with standings");
        if (!papers[i].cut && options->after != NULL)
            return usage_error(o->command, "--after goes with standings and card");
        if (!slug_is_good(o->operands[1]))
            return usage_error(o->command, "“%s” is no slug", o->operands[1]);
        textbuf_printf(b, "/api/v1/events/%s/paper/%s", o->operands[1], papers[i].route);
        const char *name = papers[i].named ? o->operands[3] : "";
        if (strchr(papers[i].route, '?') != NULL)
            write_escaped(b, name);
        else if (name[strspn(name, "0123456789")] == '\0')
            textbuf_puts(b, name);
        else
            return usage_error(o->command, "%s goes by number, not by “%s”", what, name);
        write_parameter(b, "by", options->by);
        write_parameter(b, "class", options->class_id);
        write_parameter(b, "after", options->after);
        return EXIT_GOOD;
    }
    return usage_error(o->command, "it needs a data folder, a slug, what to print and a file");
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

static int print_paper(const struct options *o, const struct paper_options *options,
                       const char *address) {
    struct server *server = NULL;
    struct textbuf b = {0};
    int code = EXIT_GOOD;
    int err = sodium_init() < 0 ? ERR_IO : server_open(o->operands[0], o->operands[1], &b, &server);
    if (err != ERR_OK) {
        (void)fprintf(stderr, "cairn: %s\n", b.len > 0 ? textbuf_text(&b) : err_text(err));
        code = exit_code(err);
    } else if (write_queue_find(server_write_queue(server), o->operands[1]) == NULL) {
        (void)fprintf(stderr, "cairn: there is no event “%s” in %s\n", o->operands[1],
                      o->operands[0]);
        code = EXIT_INPUT;
    } else {
        unsigned status = server_print(
            server, address, options->as_public ? ROLE_PUBLIC : ROLE_ORGANISER, options->base, &b);
        if (status == MHD_HTTP_OK) {
            code = save(o->operands[o->operand_count - 1], &b);
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

static int run(int argc, char **argv) {
    struct paper_options options = {0};
    struct textbuf address = {0};
    struct options o;
    options_init(&o, &command_paper, argc, argv);
    int code = parse(&o, &options);
    if (code == EXIT_GOOD && options.wants_help) {
        (void)fputs(help, stdout);
        return EXIT_GOOD;
    }
    if (code == EXIT_GOOD)
        code = write_address(&address, &o, &options);
    if (code == EXIT_GOOD)
        code = print_paper(&o, &options, textbuf_text(&address));
    textbuf_clear(&address);
    return code;
}

const struct command command_paper = {
    .name = "paper",
    .summary = "write notices, lists, cards and control sheets as PDF",
    .help = help,
    .run = run,
};
