/* SPDX-License-Identifier: MIT */
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "commands/commands.h"
#include "output/output.h"
#include "system/event_folder.h"
#include "system/heap.h"
#include "system/problem_lines.h"

static const char about[] =
    "cairn score FOLDER [options]\n"
    "\n"
    "Scores the event folder and prints the standings. Without --live every point is closed:\n"
    "what was not read is missed.\n";

/* What a large event takes, read and scored. */
enum { EVENT_MEMORY = 16 << 20 };

enum { FORMAT_JSON, FORMAT_CSV, FORMAT_TEXT };
static const char *const formats[] = {"json", "csv", "text", NULL};

struct score_options {
    struct view_request view;
    const char *after;
    enum standings_by by;
    int format;
    const char *card;
    bool strict;
};

static int take_by(void *options, const char *name, char *value, struct textbuf *why) {
    struct score_options *o = options;
    (void)name;
    textbuf_printf(why, " %s is not known", value);
    return by_parse(value, &o->by) == ERR_OK ? ERR_OK : ERR_INPUT;
}

static const struct option_row rows[] = {
    {"live", OPTION_FLAG, NULL, "only what decisions closed is closed; the rest is awaited",
     .at = offsetof(struct score_options, view.live)},
    {"public", OPTION_FLAG, NULL, "with --live: as the public sees it, without hidden items",
     .at = offsetof(struct score_options, view.public_view)},
    {"after", OPTION_TEXT, "POINT", "only the route up to the item that holds POINT",
     .at = offsetof(struct score_options, after)},
    {"by", OPTION_TAKEN, "WHAT", "overall (default), class, category, group, day, test or team",
     .take = take_by},
    {"format", OPTION_CHOICE, "FORMAT", "json (default), csv or text",
     .at = offsetof(struct score_options, format), .choices = formats},
    {"card", OPTION_TEXT, "NUMBER", "one car's card, with every point explained",
     .at = offsetof(struct score_options, card)},
    {"strict", OPTION_FLAG, NULL, "refused readings are an error",
     .at = offsetof(struct score_options, strict)},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 for bad input, each problem a line on standard error; 1 for a failure of\n"
    "the machine. Times are for the classification only: road law and speed limits come first.\n";

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
            (void)usage_error(&command_score, "this event has no %s", by_lacking(options->by));
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

static int run(const struct arguments *a) {
    struct score_options *o = a->options;
    struct problems problems = {0};
    struct event_folder folder = {0};
    struct model *model = NULL;
    if (o->view.public_view && !o->view.live)
        return usage_error(&command_score, "--public goes with --live only");
    heap_use_large_pages(EVENT_MEMORY);
    int err = event_folder_read(a->operands[0], &problems, &folder);
    if (err == ERR_OK)
        err = model_read(&folder.files, &problems, &model);
    print_problems(&problems);
    int code = exit_code(err);
    if (code == EXIT_GOOD && o->strict && problems.by_level[PROBLEM_REFUSED] > 0)
        code = EXIT_INPUT;
    if (model != NULL && code == EXIT_GOOD && o->after != NULL) {
        o->view.after = view_item_of(model->rules, o->after);
        if (o->view.after < 0)
            code = usage_error(&command_score, "point %s is not on the route", o->after);
    }
    if (model != NULL && code == EXIT_GOOD)
        code = print_scores(&model->event, o);
    model_free(model);
    event_folder_clear(&folder);
    problems_clear(&problems);
    return code;
}

const struct command command_score = {
    .name = "score",
    .summary = "score an event folder and print standings or a card",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 1,
    .needs = "one folder",
    .defaults = &(const struct score_options){.view = {.after = -1}},
    .size = sizeof(struct score_options),
    .run = run,
};
