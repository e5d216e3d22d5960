/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "commands/command.h"
#include "commands/event_source.h"
#include "output/awards.h"

static const char help[] =
    "cairn prizes FOLDER [options]\n"
    "cairn prizes DATA_DIR SLUG [options]\n"
    "\n"
    "Prints the prizes that event.json names (awards) as they will be read out: the last prize\n"
    "first, in each the last place first. Without --live every point is closed.\n"
    "\n"
    "  --live            only what decisions closed is closed; the rest is awaited\n"
    "  --format FORMAT   text (default), csv or json\n"
    "\n"
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

struct prizes_options {
    struct view_request view;
    const char *format;
    bool wants_help;
};

static int parse(struct options *o, struct prizes_options *out) {
    while (options_next(o)) {
        bool *flag = strcmp(o->name, "help") == 0   ? &out->wants_help
                     : strcmp(o->name, "live") == 0 ? &out->view.live
                                                    : NULL;
        if (o->is_short)
            return options_unknown(o);
        if (flag != NULL) {
            if (options_no_value(o) != EXIT_GOOD)
                return EXIT_INPUT;
            *flag = true;
        } else if (strcmp(o->name, "format") == 0) {
            out->format = options_value(o);
            if (out->format == NULL)
                return EXIT_INPUT;
            if (strcmp(out->format, "text") != 0 && strcmp(out->format, "csv") != 0 &&
                strcmp(out->format, "json") != 0)
                return usage_error(o->command, "--format %s is not known", out->format);
        } else {
            return options_unknown(o);
        }
    }
    return EXIT_GOOD;
}

static int print_prizes(const struct event *event, const struct prizes_options *options) {
    struct view *view = NULL;
    struct scores *scores = NULL;
    struct awards *awards = NULL;
    struct textbuf b = {0};
    if (event->rules->award_count == 0)
        return usage_error(&command_prizes, "this event names no awards in event.json");
    int err = view_new(event, options->view, &view);
    if (err == ERR_OK)
        err = scores_new(event, view, &scores);
    if (err == ERR_OK)
        err = awards_new(scores, &awards);
    if (err == ERR_OK) {
        struct output_head head = {view_status(view), 0, NULL};
        if (strcmp(options->format, "json") == 0)
            awards_write_json(&b, awards, &head);
        else if (strcmp(options->format, "csv") == 0)
            awards_write_csv(&b, awards);
        else
            awards_write_text(&b, awards, &head);
    }
    int code = err == ERR_OK ? print_output(&b) : exit_code(err);
    textbuf_clear(&b);
    awards_free(awards);
    scores_free(scores);
    view_free(view);
    return code;
}

static int run(int argc, char **argv) {
    struct prizes_options options = {.view = {.after = -1}, .format = "text"};
    struct event_source source = {0};
    struct options o;
    options_init(&o, &command_prizes, argc, argv);
    int code = parse(&o, &options);
    if (code == EXIT_GOOD && options.wants_help) {
        (void)fputs(help, stdout);
        return EXIT_GOOD;
    }
    if (code == EXIT_GOOD)
        code = event_source_open(&source, &o, false);
    if (code == EXIT_GOOD)
        code = print_prizes(&source.model->event, &options);
    event_source_close(&source);
    return code;
}

const struct command command_prizes = {
    .name = "prizes",
    .summary = "print the prizes as they will be read out",
    .help = help,
    .run = run,
};
