/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "commands/commands.h"
#include "commands/event_source.h"
#include "office/start_list.h"
#include "store/stored_documents.h"
#include "system/problem_lines.h"

static const char about[] =
    "cairn startlist FOLDER --day N [options]\n"
    "cairn startlist DATA_DIR SLUG --day N [options]\n"
    "\n"
    "Makes the start list of a day: of an event folder, or of an event file. Nothing is changed\n"
    "without --save. Retired and disqualified cars are left out; cars without a place start behind\n"
    "the others, by number.\n";

enum { SETTINGS_MAX = 512 };

/* What the command line says of the plan; kept until the event is there. */
struct setting {
    const char *key;
    const char *name; /* NULL where the value has none */
    const char *value;
};

struct startlist_options {
    const char *day;
    struct setting settings[SETTINGS_MAX];
    int count;
    bool text, csv, save;
};

static int add_setting(struct startlist_options *o, struct setting setting, struct textbuf *why) {
    if (o->count == SETTINGS_MAX) {
        textbuf_printf(why, " is one more than the %d settings there may be", SETTINGS_MAX);
        return ERR_INPUT;
    }
    o->settings[o->count++] = setting;
    return ERR_OK;
}

/* The plan's keys are the options' names, with "_" for "-". */
static int add_plain(struct startlist_options *o, const char *name, const char *value,
                     struct textbuf *why) {
    const char *key = strcmp(name, "reverse-first") == 0    ? "reverse_first"
                      : strcmp(name, "interval-first") == 0 ? "interval_first"
                                                            : name;
    return add_setting(o, (struct setting){key, NULL, value}, why);
}

static int take_plain(void *options, const char *name, char *value, struct textbuf *why) {
    return add_plain(options, name, value, why);
}

/* Parts CAR=VALUE or GROUP=VALUE. */
static int take_named(void *options, const char *key, char *value, struct textbuf *why) {
    char *equals = strchr(value, '=');
    if (equals == NULL) {
        textbuf_printf(why, " needs CAR=%s", strcmp(key, "late") == 0 ? "TIME" : "D");
        return ERR_INPUT;
    }
    *equals = '\0';
    return add_setting(options, (struct setting){key, value, equals + 1}, why);
}

static int take_interval(void *options, const char *name, char *value, struct textbuf *why) {
    return strchr(value, '=') == NULL ? add_plain(options, name, value, why)
                                      : take_named(options, "intervals", value, why);
}

static int take_gap(void *options, const char *name, char *value, struct textbuf *why) {
    (void)name;
    return take_named(options, "gaps", value, why);
}

static const struct option_row rows[] = {
    {"day", OPTION_TEXT, "N", "the day, from 1", .at = offsetof(struct startlist_options, day)},
    {"order", OPTION_TAKEN, "WHAT",
     "number (default), reversed, standings, standings-reversed or era;\n"
     "standings are those after the days before, as the event stands",
     .take = take_plain},
    {"reverse-first", OPTION_TAKEN, "N", "with standings-reversed: the first N only (default: all)",
     .take = take_plain},
    {"rest", OPTION_TAKEN, "WHAT", "behind those: standings (default) or number",
     .take = take_plain},
    {"first", OPTION_TAKEN, "HH:MM", "the first start (default: event.json)", .take = take_plain},
    {"interval", OPTION_TAKEN, "D", "time between two cars (default: event.json)",
     .take = take_interval},
    {"interval", OPTION_TAKEN, "GROUP=D",
     "behind each car of a class, category or period; may be repeated", .take = take_interval},
    {"interval-first", OPTION_TAKEN, "D", "behind each of the first N", .take = take_plain},
    {"gap-after", OPTION_TAKEN, "CAR=D", "so much more time behind a car; may be repeated",
     .take = take_gap},
    {"late", OPTION_TAKEN, "CAR=TIME",
     "a car starts at this time, out of the order; may be repeated", .take = take_named},
    {"late", OPTION_TAKEN, "CAR=end", "a car starts behind all others", .take = take_named},
    {"text", OPTION_FLAG, NULL, "for people (default)",
     .at = offsetof(struct startlist_options, text)},
    {"csv", OPTION_FLAG, NULL, "as rows of starts.csv",
     .at = offsetof(struct startlist_options, csv)},
    {"save", OPTION_FLAG, NULL,
     "keep it: in FOLDER/starts.csv, or in the event file; other days stay as\n"
     "they are",
     .at = offsetof(struct startlist_options, save)},
    {0},
};

static const char notes[] =
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine. Intervals must suit the road:\n"
    "road law, permits and the clerk of the course come first.\n";

static int set_all(struct start_plan *plan, const struct startlist_options *options) {
    struct textbuf why = {0};
    int code = EXIT_GOOD;
    for (int i = 0; i < options->count && code == EXIT_GOOD; i++) {
        const struct setting *s = &options->settings[i];
        if (start_plan_set(plan, s->key, s->name, s->value, &why) != ERR_OK)
            code = usage_error(&command_startlist, "%s", textbuf_text(&why));
    }
    textbuf_clear(&why);
    return code;
}

static int save(struct event_source *source, const struct start_list *list) {
    struct textbuf b = {0};
    char *kept = NULL;
    const char *old = source->folder.files.starts.text;
    size_t len = source->folder.files.starts.len;
    int err = ERR_OK;
    if (source->store != NULL) {
        err = store_document(source->store, "starts.csv", &kept, &len);
        err = err == ERR_UNKNOWN ? ERR_OK : err;
        old = kept;
    }
    if (err == ERR_OK)
        err = start_list_merge(list, &source->model->event, len > 0 ? old : NULL, len, &b);
    int code = err == ERR_OK ? event_source_save_starts(source, b.bytes, b.len) : exit_code(err);
    textbuf_clear(&b);
    free(kept);
    return code;
}

static int make(struct event_source *source, const struct startlist_options *options) {
    const struct event *event = &source->model->event;
    struct start_plan plan = {0};
    struct start_list list = {0};
    struct problems problems = {0};
    struct textbuf b = {0};
    int64_t day = 0;
    if (decimal_parse_whole(options->day, 1, event->rules->day_count, &day) != ERR_OK)
        return usage_error(&command_startlist, "day “%s” is no day of this event", options->day);
    int code = exit_code(start_plan_init(&plan, event, (int)day - 1));
    if (code == EXIT_GOOD)
        code = set_all(&plan, options);
    if (code == EXIT_GOOD) {
        int err = start_list_make(&plan, &problems, &list);
        print_problems(&problems);
        code = exit_code(err);
    }
    if (code == EXIT_GOOD && options->csv && !options->text)
        start_list_csv(&list, event, &b);
    else if (code == EXIT_GOOD)
        start_list_text(&list, event, &b);
    if (code == EXIT_GOOD && options->save)
        code = save(source, &list);
    if (code == EXIT_GOOD)
        code = print_output(&b);
    textbuf_clear(&b);
    problems_clear(&problems);
    start_list_clear(&list);
    start_plan_clear(&plan);
    return code;
}

static int run(const struct arguments *a) {
    const struct startlist_options *o = a->options;
    struct event_source source = {0};
    if (o->day == NULL)
        return usage_error(&command_startlist, "it needs --day");
    int code = event_source_open(&source, a, o->save);
    if (code == EXIT_GOOD)
        code = make(&source, o);
    event_source_close(&source);
    return code;
}

const struct command command_startlist = {
    .name = "startlist",
    .summary = "make the start list of a day",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 2,
    .needs = "an event folder, or a data folder and a slug",
    .defaults = &(const struct startlist_options){0},
    .size = sizeof(struct startlist_options),
    .run = run,
};
