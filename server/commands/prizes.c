/* SPDX-License-Identifier: MIT */
#include "base/err.h"
#include "commands/commands.h"
#include "commands/event_source.h"
#include "output/awards.h"

static const char about[] =
    "cairn prizes FOLDER [options]\n"
    "cairn prizes DATA_DIR SLUG [options]\n"
    "\n"
    "Prints the prizes that event.json names (awards) as they will be read out: the last prize\n"
    "first, in each the last place first. Without --live every point is closed.\n";

enum { FORMAT_TEXT, FORMAT_CSV, FORMAT_JSON };
static const char *const formats[] = {"text", "csv", "json", NULL};

struct prizes_options {
    struct view_request view;
    int format;
};

static const struct option_row rows[] = {
    {"live", OPTION_FLAG, NULL, "only what decisions closed is closed; the rest is awaited",
     .at = offsetof(struct prizes_options, view.live)},
    {"format", OPTION_CHOICE, "FORMAT", "text (default), csv or json",
     .at = offsetof(struct prizes_options, format), .choices = formats},
    {0},
};

static const char notes[] = "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

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
        if (options->format == FORMAT_JSON)
            awards_write_json(&b, awards, &head);
        else if (options->format == FORMAT_CSV)
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

static int run(const struct arguments *a) {
    struct event_source source = {0};
    int code = event_source_open(&source, a, false);
    if (code == EXIT_GOOD)
        code = print_prizes(&source.model->event, a->options);
    event_source_close(&source);
    return code;
}

const struct command command_prizes = {
    .name = "prizes",
    .summary = "print the prizes as they will be read out",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 2,
    .needs = "an event folder, or a data folder and a slug",
    .defaults = &(const struct prizes_options){.view = {.after = -1}, .format = FORMAT_TEXT},
    .size = sizeof(struct prizes_options),
    .run = run,
};
