/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "commands/command.h"
#include "commands/event_source.h"
#include "office/start_list.h"

static const char help[] =
    "cairn startlist FOLDER --day N [options]\n"
    "cairn startlist DATA_DIR SLUG --day N [options]\n"
    "\n"
    "Makes the start list of a day: of an event folder, or of an event file. Nothing is changed\n"
    "without --save. Retired and disqualified cars are left out; cars without a place start "
    "behind\n"
    "the others, by number.\n"
    "\n"
    "  --day N                the day, from 1\n"
    "  --order WHAT           number (default), reversed, standings, standings-reversed or era;\n"
    "                         standings are those after the days before, as the event stands\n"
    "  --reverse-first N      with standings-reversed: the first N only (default: all)\n"
    "  --rest WHAT            behind those: standings (default) or number\n"
    "  --first HH:MM          the first start (default: event.json)\n"
    "  --interval D           time between two cars (default: event.json)\n"
    "  --interval GROUP=D     behind each car of a class, category or period; may be repeated\n"
    "  --interval-first D     behind each of the first N\n"
    "  --gap-after CAR=D      so much more time behind a car; may be repeated\n"
    "  --late CAR=TIME        a car starts at this time, out of the order; may be repeated\n"
    "  --late CAR=end         a car starts behind all others\n"
    "  --text, --csv          for people (default), or as rows of starts.csv\n"
    "  --save                 keep it: in FOLDER/starts.csv, or in the event file; other days\n"
    "                         stay as they are\n"
    "\n"
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine. Intervals must suit the "
    "road:\n"
    "road law, permits and the clerk of the course come first.\n";

enum { SETTINGS_MAX = 512 };

/* What the command line says of the plan; kept until the event is there. */
struct setting {
    const char *key;
    char *name; /* NULL where the value has none */
    const char *value;
};

struct startlist_options {
    const char *day;
    struct setting settings[SETTINGS_MAX];
    int count;
    bool csv, save, wants_help;
};

/* The plan's key of an option that takes a value, NULL where it is none. */
static const char *key_of(const char *option) {
    static const char *const keys[][2] = {{"order", "order"},
                                          {"reverse-first", "reverse_first"},
                                          {"rest", "rest"},
                                          {"first", "first"},
                                          {"interval-first", "interval_first"},
                                          {"interval", "interval"},
                                          {"gap-after", "gaps"},
                                          {"late", "late"}};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (strcmp(keys[i][0], option) == 0)
            return keys[i][1];
    }
    return NULL;
}

static int take_setting(struct options *o, const char *key, struct startlist_options *out) {
    const char *option = o->name;
    char *value = (char *)options_value(o);
    if (value == NULL)
        return EXIT_INPUT;
    if (out->count == SETTINGS_MAX)
        return usage_error(o->command, "at most %d options", SETTINGS_MAX);
    char *equals = strchr(value, '=');
    bool named = strcmp(key, "gaps") == 0 || strcmp(key, "late") == 0;
    if (named && equals == NULL)
        return usage_error(o->command, "--%s needs CAR=%s", option,
                           strcmp(key, "late") == 0 ? "TIME" : "D");
    if (strcmp(key, "interval") == 0 && equals != NULL) {
        key = "intervals";
        named = true;
    }
    if (named)
        *equals = '\0';
    out->settings[out->count++] =
        (struct setting){key, named ? value : NULL, named ? equals + 1 : value};
    return EXIT_GOOD;
}

static int parse(struct options *o, struct startlist_options *out) {
    while (options_next(o)) {
        bool text = false;
        bool *flag = strcmp(o->name, "help") == 0   ? &out->wants_help
                     : strcmp(o->name, "csv") == 0  ? &out->csv
                     : strcmp(o->name, "text") == 0 ? &text
                     : strcmp(o->name, "save") == 0 ? &out->save
                                                    : NULL;
        int code = EXIT_GOOD;
        if (o->is_short)
            return options_unknown(o);
        if (flag != NULL) {
            code = options_no_value(o);
            *flag = true;
            out->csv = out->csv && !text;
        } else if (strcmp(o->name, "day") == 0) {
            out->day = options_value(o);
            code = out->day == NULL ? EXIT_INPUT : EXIT_GOOD;
        } else if (key_of(o->name) != NULL) {
            code = take_setting(o, key_of(o->name), out);
        } else {
            return options_unknown(o);
        }
        if (code != EXIT_GOOD)
            return code;
    }
    if (!out->wants_help && out->day == NULL)
        return usage_error(o->command, "it needs --day");
    return EXIT_GOOD;
}

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
    if (code == EXIT_GOOD && options->csv)
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

static int run(int argc, char **argv) {
    struct startlist_options options = {0};
    struct event_source source = {0};
    struct options o;
    options_init(&o, &command_startlist, argc, argv);
    int code = parse(&o, &options);
    if (code == EXIT_GOOD && options.wants_help) {
        (void)fputs(help, stdout);
        return EXIT_GOOD;
    }
    if (code != EXIT_GOOD)
        return code;
    code = event_source_open(&source, &o, options.save);
    if (code == EXIT_GOOD)
        code = make(&source, &options);
    event_source_close(&source);
    return code;
}

const struct command command_startlist = {
    .name = "startlist",
    .summary = "make the start list of a day",
    .help = help,
    .run = run,
};
