/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "commands/command.h"
#include "format/csv_rows.h"
#include "office/numbering.h"
#include "system/event_folder.h"
#include "system/files.h"

static const char help[] =
    "cairn number FOLDER [options]\n"
    "\n"
    "Numbers the cars of an event folder by age: the oldest first; of equal years the smaller\n"
    "engine (one that is not known last), then the order of entry, which is the order of the rows\n"
    "of entries.csv. Numbers may be empty before. Prints what each car gets; nothing is changed\n"
    "without --save. Once start times, readings or decisions name cars, numbers stay.\n"
    "\n"
    "  --keep LIST    cars that keep the number they have, such as 1,22\n"
    "  --give LIST    numbers by hand: the number a car has now and the one it gets, such as "
    "22=1\n"
    "  --skip LIST    numbers that nobody gets, such as 13\n"
    "  --first N      the first number (default: 1)\n"
    "  --save         write entries.csv: rows and columns as they were, but for the numbers\n"
    "\n"
    "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

struct number_options {
    struct numbering_wishes wishes;
    bool save, wants_help;
};

static int parse(struct options *o, struct number_options *out) {
    while (options_next(o)) {
        bool *flag = strcmp(o->name, "help") == 0   ? &out->wants_help
                     : strcmp(o->name, "save") == 0 ? &out->save
                                                    : NULL;
        bool known = strcmp(o->name, "keep") == 0 || strcmp(o->name, "give") == 0 ||
                     strcmp(o->name, "skip") == 0 || strcmp(o->name, "first") == 0;
        if (o->is_short || (flag == NULL && !known))
            return options_unknown(o);
        if (flag != NULL) {
            *flag = true;
            if (options_no_value(o) != EXIT_GOOD)
                return EXIT_INPUT;
            continue;
        }
        const char *name = o->name;
        const char *value = options_value(o);
        struct textbuf why = {0};
        if (value == NULL)
            return EXIT_INPUT;
        int err = numbering_set(&out->wishes, name, value, &why);
        int code = err == ERR_INPUT ? usage_error(o->command, "--%s: %s", name, textbuf_text(&why))
                                    : exit_code(err);
        textbuf_clear(&why);
        if (code != EXIT_GOOD)
            return code;
    }
    if (!out->wants_help && o->operand_count != 1)
        return usage_error(o->command, "it needs one event folder");
    return EXIT_GOOD;
}

/* A file that names cars by their numbers keeps them as they are. */
static int check_nothing_names_cars(const struct file_text *text, const char *name,
                                    struct problems *problems) {
    struct csv_rows grid = {0};
    int err = text->text == NULL ? ERR_OK : csv_rows_read(&grid, text->text, text->len, false);
    if (err == ERR_OK && grid.rows + grid.fault_count > 1)
        problems_add(problems, PROBLEM_ERROR, name, 0,
                     "names cars by their numbers, so that numbers stay as they are");
    csv_rows_clear(&grid);
    return err == ERR_OK && problems_fatal(problems) ? ERR_INPUT : err;
}

static int number_folder(const struct event_folder *folder, const struct number_options *options,
                         struct problems *problems, struct numbering *numbering) {
    const struct event_files *files = &folder->files;
    if (files->entries.text == NULL) {
        problems_add(problems, PROBLEM_ERROR, "entries.csv", 0, "is not in the folder");
        return ERR_INPUT;
    }
    int err = check_nothing_names_cars(&files->starts, "starts.csv", problems);
    if (err == ERR_OK)
        err = check_nothing_names_cars(&files->readings, "readings.csv", problems);
    if (err == ERR_OK)
        err = check_nothing_names_cars(&files->decisions, "decisions.csv", problems);
    if (err == ERR_OK)
        err = numbering_make(files->entries.text, files->entries.len, &options->wishes, problems,
                             numbering);
    return err;
}

static int run_number(int argc, char **argv) {
    struct options o;
    struct number_options *options = calloc(1, sizeof *options);
    if (options == NULL)
        return exit_code(ERR_NOMEM);
    options_init(&o, &command_number, argc, argv);
    int code = parse(&o, options);
    if (code != EXIT_GOOD || options->wants_help) {
        if (code == EXIT_GOOD)
            (void)fputs(help, stdout);
        free(options);
        return code;
    }
    struct event_folder folder = {0};
    struct problems problems = {0};
    struct numbering numbering = {0};
    struct textbuf out = {0};
    int err = event_folder_read(o.operands[0], &problems, &folder);
    if (err == ERR_OK)
        err = number_folder(&folder, options, &problems, &numbering);
    if (err == ERR_OK && options->save)
        err = file_write(o.operands[0], "entries.csv", numbering.text.bytes, numbering.text.len);
    print_problems(&problems);
    code = exit_code(err);
    if (err == ERR_OK) {
        numbering_write_text(&out, &numbering);
        code = print_output(&out);
    }
    textbuf_clear(&out);
    numbering_clear(&numbering);
    problems_clear(&problems);
    event_folder_clear(&folder);
    free(options);
    return code;
}

const struct command command_number = {
    .name = "number",
    .summary = "number the cars of an event folder by age, the oldest first",
    .help = help,
    .run = run_number,
};
