/* SPDX-License-Identifier: MIT */
#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "commands/commands.h"
#include "commands/presets.h"
#include "event/event.h"
#include "event/tie_rules.h"
#include "format/csv.h"
#include "office/example_entry.h"
#include "office/next_event.h"
#include "store/store.h"
#include "store/stored_documents.h"
#include "system/assets.h"
#include "system/event_folder.h"
#include "system/files.h"
#include "system/problem_lines.h"
#include "system/system_clock.h"

static const char about[] =
    "cairn new FOLDER [options]\n"
    "cairn new --list\n"
    "\n"
    "Makes an event folder that is ready for `cairn check` and `cairn import`: a blank form with\n"
    "sensible values, or an event made after last year's. FOLDER must not be there, or be empty:\n"
    "nothing is ever overwritten.\n";

struct new_options {
    const char *rules;
    const char *from;
    struct next_event what;
    bool entries, list;
};

static const struct option_row rows[] = {
    {"rules", OPTION_TEXT, "PRESET", "the blank form of a published rule set (default: fiva)",
     .at = offsetof(struct new_options, rules)},
    {"from", OPTION_TEXT, "LAST",
     "after this event instead, a folder or a .cairn file: classes, scoring,\n"
     "route and awards stay, and all days move by as many as the first.\n"
     "Start times, readings, decisions and notices are left out",
     .at = offsetof(struct new_options, from)},
    {"entries", OPTION_FLAG, NULL, "with --from: keep the entry list too",
     .at = offsetof(struct new_options, entries)},
    {"name", OPTION_TEXT, "TEXT", "its name (with --from: as before, with the new year)",
     .at = offsetof(struct new_options, what.name)},
    {"slug", OPTION_TEXT, "TEXT",
     "its address, a-z 0-9 - (default: of the folder's name; with --from: as\n"
     "before, with the new year)",
     .at = offsetof(struct new_options, what.slug)},
    {"first-day", OPTION_TEXT, "DATE",
     "YYYY-MM-DD (default: today; with --from: 52 weeks later, which is the\n"
     "same weekday)",
     .at = offsetof(struct new_options, what.first_day)},
    {"timezone", OPTION_TEXT, "NAME",
     "such as Atlantic/Azores (default: Etc/UTC; with --from: as before)",
     .at = offsetof(struct new_options, what.timezone)},
    {"list", OPTION_FLAG, NULL, "print the presets with the sources of their values",
     .at = offsetof(struct new_options, list)},
    {0},
};

static const char notes[] =
    "Without --entries the entry list holds one example car to write over. A preset is a beginning:\n"
    "the event's own regulations decide, and they differ from year to year.\n"
    "\n"
    "Presets: fiva, appendix-k, hundredths (Italian), early-double (Dutch), uk-road, uk-target,\n"
    "uk-fails, reliability, french-averages, norwegian, tsd-hundredths (North American), autotest,\n"
    "long-distance, touring.\n"
    "\n"
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

static int check_options(const struct arguments *a, const struct new_options *o) {
    if (a->count != 1)
        return usage_error(&command_new, "it needs %s", command_new.needs);
    if (o->rules != NULL && o->from != NULL)
        return usage_error(&command_new, "--rules and --from exclude each other");
    if (o->entries && o->from == NULL)
        return usage_error(&command_new, "--entries needs --from");
    if (o->rules != NULL && preset_find(o->rules) == NULL)
        return usage_error(&command_new, "“%s” is no preset: see cairn new --list", o->rules);
    return EXIT_GOOD;
}

static int print_presets(void) {
    struct textbuf b = {0};
    for (size_t i = 0; i < preset_count; i++)
        textbuf_printf(&b, "%-15s %s\n                %s\n\n", presets[i].name, presets[i].title,
                       presets[i].source);
    int code = print_output(&b);
    textbuf_clear(&b);
    return code;
}

/* What the new event is made after. */
struct pattern {
    struct event_folder folder;
    char *rules, *entries; /* of an event file */
    struct file_text rules_text, entries_text;
};

static int read_event_file(const char *path, struct pattern *pattern) {
    struct store *store = NULL;
    struct textbuf why = {0};
    int err = store_open(path, STORE_OPEN, &store, &why);
    if (err == ERR_OK)
        err = store_document(store, "event.json", &pattern->rules, &pattern->rules_text.len);
    if (err == ERR_OK)
        err = store_document(store, "entries.csv", &pattern->entries, &pattern->entries_text.len);
    if (err != ERR_OK)
        (void)fprintf(stderr, "cairn: %s: %s\n", path,
                      store != NULL ? store_message(store) : textbuf_text(&why));
    pattern->rules_text.text = pattern->rules;
    pattern->entries_text.text = pattern->entries;
    store_close(store);
    textbuf_clear(&why);
    return err == ERR_UNKNOWN ? ERR_INPUT : err;
}

static int read_folder(const char *path, struct problems *problems, struct pattern *pattern) {
    int err = event_folder_read(path, problems, &pattern->folder);
    pattern->rules_text = pattern->folder.files.rules;
    pattern->entries_text = pattern->folder.files.entries;
    if (err == ERR_OK && pattern->rules_text.text == NULL) {
        problems_add(problems, PROBLEM_ERROR, "event.json", 0, "is not in %s", path);
        err = ERR_INPUT;
    }
    return err;
}

static int read_pattern(const struct new_options *options, struct problems *problems,
                        struct pattern *pattern) {
    struct stat info;
    if (options->from == NULL) {
        const struct preset *preset = preset_find(options->rules == NULL ? "fiva" : options->rules);
        const struct asset *asset = asset_find(preset->asset);
        pattern->rules_text = (struct file_text){asset->bytes, (size_t)(asset->end - asset->bytes)};
        return ERR_OK;
    }
    if (stat(options->from, &info) == 0 && !S_ISDIR(info.st_mode))
        return read_event_file(options->from, pattern);
    return read_folder(options->from, problems, pattern);
}

static void pattern_clear(struct pattern *pattern) {
    event_folder_clear(&pattern->folder);
    free(pattern->rules);
    free(pattern->entries);
}

/* The last part of a path as a slug: small letters, and a "-" for what a slug cannot hold. */
static void slug_of(const char *path, struct textbuf *b) {
    size_t end = strlen(path);
    while (end > 0 && path[end - 1] == '/')
        end--;
    size_t from = end;
    while (from > 0 && path[from - 1] != '/')
        from--;
    for (size_t i = from; i < end && b->len < 64; i++) {
        char c = path[i];
        if (c >= 'A' && c <= 'Z')
            c = (char)(c - 'A' + 'a');
        bool good = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
        if (good)
            textbuf_putc(b, c);
        else if (b->len > 0 && b->bytes[b->len - 1] != '-')
            textbuf_putc(b, '-');
    }
}

/* Nothing is overwritten: the folder is made, or there and empty. */
static int make_folder(const char *path) {
    if (mkdir(path, 0777) == 0)
        return ERR_OK;
    int why = errno;
    DIR *folder = why == EEXIST ? opendir(path) : NULL;
    bool empty = folder != NULL;
    const struct dirent *entry;
    while (empty && (entry = readdir(folder)) != NULL)
        empty = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0;
    if (folder != NULL)
        (void)closedir(folder);
    if (empty)
        return ERR_OK;
    (void)fprintf(stderr, "cairn: %s: %s\n", path,
                  why == EEXIST ? "is there already and is not empty; nothing was written"
                                : strerror(why));
    return why == EEXIST || why == ENOENT || why == ENOTDIR ? ERR_INPUT : ERR_IO;
}

/* An entry list of one example car that the event's classes take: a list must hold a car. It has
 * the columns that these rules look at. */
static int example_entries(const struct textbuf *rules_text, struct problems *problems,
                           struct textbuf *b) {
    struct rules *rules = NULL;
    int err = rules_read(rules_text->bytes, rules_text->len, problems, &rules);
    if (err != ERR_OK)
        return err;
    const struct period *period = &rules->periods[rules->period_count / 2];
    textbuf_puts(b, "number,driver,navigator,make,model,year,engine_cc,supercharged,category,team,"
                    "country,club");
    const struct scoring *scoring = &rules->scoring;
    bool has_own = scoring->has_coefficient && scoring->coefficient_by == COEFFICIENT_BY_ENTRY;
    bool has_born = tie_rules_ask_age(scoring);
    textbuf_puts(b, rules->group_count > 0 ? ",groups" : "");
    textbuf_puts(b, has_own ? ",coefficient" : "");
    textbuf_puts(b, has_born ? ",born\n" : "\n");
    textbuf_printf(b, "1," EXAMPLE_DRIVER ",Example Navigator,Example,Car,%d,1500,no,",
                   period->to != INT_MAX ? period->to : period->from);
    if (rules->category_count > 0)
        csv_write_field(b, rules->categories[0].id);
    textbuf_puts(b, ",,,");
    if (rules->group_count > 0) {
        textbuf_putc(b, ',');
        csv_write_field(b, rules->groups[0].id);
    }
    textbuf_puts(b, has_own ? ",1" : "");
    textbuf_puts(b, has_born ? ",1960\n" : "\n");
    rules_free(rules);
    return b->failed ? ERR_NOMEM : ERR_OK;
}

/* What was written must be taken by `check`: an old entry list may hold what is no longer taken. */
static int check_whole(const struct textbuf *rules, const struct textbuf *entries,
                       struct problems *problems) {
    struct model *model = NULL;
    const struct event_files files = {.rules = {rules->bytes, rules->len},
                                      .entries = {entries->bytes, entries->len}};
    int err = model_read(&files, problems, &model);
    model_free(model);
    return err;
}

static int make(const char *folder, const struct new_options *options, struct problems *problems,
                struct textbuf *rules, struct textbuf *entries) {
    struct pattern pattern = {0};
    int err = read_pattern(options, problems, &pattern);
    if (err == ERR_OK)
        err = next_event_write(pattern.rules_text.text, pattern.rules_text.len, &options->what,
                               problems, rules);
    if (err == ERR_OK && options->entries && pattern.entries_text.text != NULL)
        textbuf_add(entries, pattern.entries_text.text, pattern.entries_text.len);
    else if (err == ERR_OK)
        err = example_entries(rules, problems, entries);
    if (err == ERR_OK && entries->failed)
        err = ERR_NOMEM;
    if (err == ERR_OK)
        err = check_whole(rules, entries, problems);
    if (err == ERR_OK)
        err = make_folder(folder);
    if (err == ERR_OK)
        err = file_write(folder, "event.json", rules->bytes, rules->len);
    if (err == ERR_OK)
        err = file_write(folder, "entries.csv", entries->bytes, entries->len);
    pattern_clear(&pattern);
    return err;
}

static void print_result(const char *folder, const struct new_options *options) {
    (void)printf("made %s/event.json and %s/entries.csv\n", folder, folder);
    if (options->from != NULL)
        (void)printf("after %s; %s\n", options->from,
                     options->entries ? "with its entry list"
                                      : "the entry list holds one example car to write over");
    else
        (void)printf("%s\nthe entry list holds one example car to write over\n",
                     preset_find(options->rules == NULL ? "fiva" : options->rules)->source);
    (void)printf("next: cairn check %s\n", folder);
}

/* What a blank form takes where nothing is said: it has no event before it to go by. */
static void fill_in(const char *folder, struct new_options *options, struct textbuf *slug,
                    struct textbuf *today) {
    slug_of(folder, slug);
    write_instant(today, now_ms());
    if (today->len > 10) /* the date of an instant */
        today->bytes[10] = '\0';
    if (options->what.slug == NULL)
        options->what.slug = textbuf_text(slug);
    if (options->what.first_day == NULL)
        options->what.first_day = textbuf_text(today);
}

static int make_event(const char *path, struct new_options *o) {
    struct problems problems = {0};
    struct textbuf slug = {0};
    struct textbuf today = {0};
    struct textbuf rules = {0};
    struct textbuf entries = {0};
    if (o->from == NULL)
        fill_in(path, o, &slug, &today);
    int err = slug.failed || today.failed ? ERR_NOMEM : make(path, o, &problems, &rules, &entries);
    print_problems(&problems);
    if (err == ERR_OK)
        print_result(path, o);
    problems_clear(&problems);
    textbuf_clear(&slug);
    textbuf_clear(&today);
    textbuf_clear(&rules);
    textbuf_clear(&entries);
    return exit_code(err);
}

static int run(const struct arguments *a) {
    struct new_options *o = a->options;
    if (o->list)
        return print_presets();
    int code = check_options(a, o);
    return code == EXIT_GOOD ? make_event(a->operands[0], o) : code;
}

const struct command command_new = {
    .name = "new",
    .summary = "make an event folder, from a blank form or from last year's event",
    .about = about,
    .options = rows,
    .notes = notes,
    .most = 1,
    .needs = "one folder to make",
    .defaults = &(const struct new_options){0},
    .size = sizeof(struct new_options),
    .run = run,
};
