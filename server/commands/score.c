/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "commands/command.h"
#include "output/output.h"
#include "system/event_folder.h"

static const char help[] =
    "cairn score FOLDER [options]\n"
    "\n"
    "Scores the event folder and prints the standings. Without --live every point is closed:\n"
    "what was not read is missed.\n"
    "\n"
    "  --live            only what decisions closed is closed; the rest is awaited\n"
    "  --public          with --live: as the public sees it, without hidden items\n"
    "  --after POINT     only the route up to the item that holds POINT\n"
    "  --by WHAT         overall (default), class, category, day, test or team\n"
    "  --format FORMAT   json (default), csv or text\n"
    "  --card NUMBER     one car's card, with every point explained\n"
    "  --strict          refused readings are an error\n"
    "\n"
    "Exit status: 0; 2 for bad input, each problem a line on standard error; 1 for a failure of\n"
    "the machine. Times are for the classification only: road law and speed limits come first.\n";

enum format { FORMAT_JSON, FORMAT_CSV, FORMAT_TEXT };

struct score_options {
    const char *folder;
    struct view_request view;
    const char *after;
    enum standings_by by;
    enum format format;
    const char *card;
    bool strict;
    bool wants_help;
};

static int parse_value_option(struct options *o, struct score_options *out) {
    const char *name = o->name;
    const char *value = options_value(o);
    if (value == NULL)
        return EXIT_INPUT;
    if (strcmp(name, "after") == 0) {
        out->after = value;
    } else if (strcmp(name, "card") == 0) {
        out->card = value;
    } else if (strcmp(name, "by") == 0) {
        if (by_parse(value, &out->by) != ERR_OK)
            return usage_error(&command_score, "--by %s is not known", value);
    } else if (strcmp(value, "json") == 0) {
        out->format = FORMAT_JSON;
    } else if (strcmp(value, "csv") == 0) {
        out->format = FORMAT_CSV;
    } else if (strcmp(value, "text") == 0) {
        out->format = FORMAT_TEXT;
    } else {
        return usage_error(&command_score, "--format %s is not known", value);
    }
    return EXIT_GOOD;
}

static int parse_options(int argc, char **argv, struct score_options *out) {
    struct options o;
    options_init(&o, &command_score, argc, argv);
    while (options_next(&o)) {
        bool *flag = strcmp(o.name, "help") == 0     ? &out->wants_help
                     : strcmp(o.name, "live") == 0   ? &out->view.live
                     : strcmp(o.name, "public") == 0 ? &out->view.public_view
                     : strcmp(o.name, "strict") == 0 ? &out->strict
                                                     : NULL;
        if (o.is_short)
            return options_unknown(&o);
        if (flag != NULL) {
            if (options_no_value(&o) != EXIT_GOOD)
                return EXIT_INPUT;
            *flag = true;
        } else if (strcmp(o.name, "after") == 0 || strcmp(o.name, "by") == 0 ||
                   strcmp(o.name, "format") == 0 || strcmp(o.name, "card") == 0) {
            int code = parse_value_option(&o, out);
            if (code != EXIT_GOOD)
                return code;
        } else {
            return options_unknown(&o);
        }
    }
    if (out->wants_help)
        return EXIT_GOOD;
    if (out->view.public_view && !out->view.live)
        return usage_error(&command_score, "--public goes with --live only");
    if (o.operand_count != 1)
        return usage_error(&command_score, "it needs one folder");
    out->folder = o.operands[0];
    return EXIT_GOOD;
}

static void write_card(struct textbuf *b, struct scores *scores, int car,
                       const struct score_options *options, const struct output_head *head) {
    if (options->format == FORMAT_JSON)
        output_card_json(b, scores, car, head);
    else if (options->format == FORMAT_CSV)
        output_card_csv(b, scores, car, head);
    else
        output_card_text(b, scores, car, head);
}

static void write_standings(struct textbuf *b, const struct standings *st,
                            const struct score_options *options, const struct output_head *head) {
    if (options->format == FORMAT_JSON)
        output_standings_json(b, st, head);
    else if (options->format == FORMAT_CSV)
        output_standings_csv(b, st, head);
    else
        output_standings_text(b, st, head);
}

/* Scores the event in hand and prints what was asked for. */
static int print_scores(const struct event *event, const struct score_options *options) {
    struct view *view = NULL;
    struct scores *scores = NULL;
    struct standings *standings = NULL;
    struct textbuf b = {0};
    struct output_head head = {NULL, 0, options->after};
    int code = EXIT_INPUT;
    int car = -1;
    int64_t number;
    if (options->card != NULL) {
        if (decimal_parse_whole(options->card, 1, NUMBER_MAX, &number) == ERR_OK)
            car = entries_find(event->entries, number);
        if (car < 0) {
            (void)usage_error(&command_score, "car %s is not in the entry list", options->card);
            goto done;
        }
    }
    int err = view_new(event, options->view, &view);
    if (err == ERR_OK && options->after != NULL && view->hidden[options->view.after]) {
        /* To the public a hidden point is no different from one that does not exist. */
        (void)usage_error(&command_score, "point %s is not on the route", options->after);
        goto done;
    }
    if (err == ERR_OK) {
        head.status = view_status(view);
        err = scores_new(event, view, &scores);
    }
    if (err == ERR_OK && car < 0) {
        err = standings_new(scores, options->by, &standings);
        if (err == ERR_UNKNOWN) {
            (void)usage_error(&command_score, "this event has no %s",
                              options->by == BY_TEAM ? "teams" : "categories");
            goto done;
        }
    }
    if (err != ERR_OK) {
        code = exit_code(err);
        goto done;
    }
    if (car >= 0)
        write_card(&b, scores, car, options, &head);
    else
        write_standings(&b, standings, options, &head);
    code = print_output(&b);
done:
    textbuf_clear(&b);
    standings_free(standings);
    scores_free(scores);
    view_free(view);
    return code;
}

static int run(int argc, char **argv) {
    struct score_options options = {.view = {.after = -1}};
    struct problems problems = {0};
    struct event_folder folder = {0};
    struct model *model = NULL;
    int code = parse_options(argc, argv, &options);
    if (code != EXIT_GOOD)
        return code;
    if (options.wants_help) {
        (void)fputs(help, stdout);
        return EXIT_GOOD;
    }
    int err = event_folder_read(options.folder, &problems, &folder);
    if (err == ERR_OK)
        err = model_read(&folder.files, &problems, &model);
    print_problems(&problems);
    code = exit_code(err);
    if (code == EXIT_GOOD && options.strict && problems.by_level[PROBLEM_REFUSED] > 0)
        code = EXIT_INPUT;
    if (model != NULL && code == EXIT_GOOD && options.after != NULL) {
        options.view.after = view_item_of(model->rules, options.after);
        if (options.view.after < 0)
            code = usage_error(&command_score, "point %s is not on the route", options.after);
    }
    if (model != NULL && code == EXIT_GOOD)
        code = print_scores(&model->event, &options);
    model_free(model);
    event_folder_clear(&folder);
    problems_clear(&problems);
    return code;
}

const struct command command_score = {
    .name = "score",
    .summary = "score an event folder and print standings or a card",
    .help = help,
    .run = run,
};
