/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "commands/commands.h"
#include "format/csv_rows.h"
#include "office/numbering.h"
#include "system/event_folder.h"
#include "system/files.h"
#include "system/problem_lines.h"

static const char about[] =
    "cairn number FOLDER [options]\n"
    "\n"
    "Numbers the cars of an event folder by age: the oldest first; of equal years the smaller\n"
    "engine (one that is not known last), then the order of entry, which is the order of the rows\n"
    "of entries.csv. Numbers may be empty before. Prints what each car gets; nothing is changed\n"
    "without --save. Once start times, readings or decisions name cars, numbers stay.\n";

struct number_options {
    struct numbering_wishes wishes;
    bool save;
};

static int take_wish(void *options, const char *name, char *value, struct textbuf *why) {
    struct number_options *o = options;
    textbuf_puts(why, ": ");
    return numbering_set(&o->wishes, name, value, why);
}

static const struct option_row rows[] = {
    {"keep", OPTION_TAKEN, "LIST", "cars that keep the number they have, such as 1,22",
     .take = take_wish},
    {"give", OPTION_TAKEN, "LIST",
     "numbers by hand: the number a car has now and the one it gets, such as 22=1",
     .take = take_wish},
    {"skip", OPTION_TAKEN, "LIST", "numbers that nobody gets, such as 13", .take = take_wish},
    {"first", OPTION_TAKEN, "N", "the first number (default: 1)", .take = take_wish},
    {"save", OPTION_FLAG, NULL,
     "write entries.csv: rows and columns as they were, but for the numbers",
     .at = offsetof(struct number_options, save)},
    {0},
};

static const char notes[] = "Exit status: 0; 2 for bad input; 1 for a failure of the machine.\n";

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
        err = check_nothing_names_cars(&files->unassigned, "unassigned.csv", problems);
    if (err == ERR_OK)
        err = check_nothing_names_cars(&files->decisions, "decisions.csv", problems);
    if (err == ERR_OK)
        err = numbering_make(files->entries.text, files->entries.len, &options->wishes, problems,
                             numbering);
    return err;
}

static int run(const struct arguments *a) {
    const struct number_options *options = a->options;
    struct event_folder folder = {0};
    struct problems problems = {0};
    struct numbering numbering = {0};
    struct textbuf out = {0};
    int err = event_folder_read(a->operands[0], &problems, &folder);
    if (err == ERR_OK)
        err = number_folder(&folder, options, &problems, &numbering);
    if (err == ERR_OK && options->save)
        err = file_write(a->operands[0], "entries.csv", numbering.text.bytes, numbering.text.len);
    print_problems(&problems);
    int code = exit_code(err);
    if (err == ERR_OK) {
        numbering_write_text(&out, &numbering);
        code = print_output(&out);
    }
    textbuf_clear(&out);
    numbering_clear(&numbering);
    problems_clear(&problems);
    event_folder_clear(&folder);
    return code;
}

const struct command command_number = {
    .name = "number",
    .summary = "number the cars of an event folder by age, the oldest first",
    .about = about,
    .options = rows,
    .notes = notes,
    .least = 1,
    .most = 1,
    .needs = "one event folder",
    .defaults = &(const struct number_options){.save = false},
    .size = sizeof(struct number_options),
    .run = run,
};
