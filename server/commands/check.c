/* SPDX-License-Identifier: MIT */
#include <stdio.h>

#include "base/err.h"
#include "base/problem.h"
#include "commands/commands.h"
#include "office/check.h"
#include "system/event_folder.h"
#include "system/problem_lines.h"

static const char about[] =
    "cairn check FOLDER\n"
    "\n"
    "Reads the event folder and says everything that is wrong or doubtful in it, a line each:\n"
    "FILE:LINE: what, or event.json: path: what. Doubts are marked “doubt:” and are for a person\n"
    "to judge; refused readings are marked “refused:”.\n"
    "\n"
    "Average speeds above 50 km/h (FIVA) or 30 mph (UK rules) are told as doubts. That is no\n"
    "permission below them: speed limits and road law come first, and local rules, permits and\n"
    "licensed officials decide.\n"
    "\n"
    "Exit status: 0 where the folder can be scored; 2 for bad input; 1 for a failure of the\n"
    "machine.\n";

static int run(const struct arguments *a) {
    struct problems problems = {0};
    struct event_folder folder = {0};
    struct model *model = NULL;
    int err = event_folder_read(a->operands[0], &problems, &folder);
    if (err == ERR_OK)
        err = model_read(&folder.files, &problems, &model);
    if (err == ERR_OK)
        err = check_event(model, &problems);
    print_problems(&problems);
    if (err == ERR_OK)
        (void)printf("%d cars, %d items, %d scored points, %d readings, %d decisions; "
                     "%zu refused, %zu warnings, %zu doubts\n",
                     model->entries->count, model->rules->item_count, model->rules->scored_count,
                     readings_count(model->readings), decisions_count(model->decisions),
                     problems.by_level[PROBLEM_REFUSED], problems.by_level[PROBLEM_WARNING],
                     problems.by_level[PROBLEM_DOUBT]);
    model_free(model);
    event_folder_clear(&folder);
    problems_clear(&problems);
    return exit_code(err);
}

const struct command command_check = {
    .name = "check",
    .summary = "say everything that is wrong or doubtful in an event folder",
    .about = about,
    .least = 1,
    .most = 1,
    .needs = "one folder",
    .run = run,
};
