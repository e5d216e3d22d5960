/* SPDX-License-Identifier: MIT */
/* event_file.h - the event file that a command is given by data folder and slug. What is wrong is
 * reported on standard error. */
#ifndef CAIRN_EVENT_FILE_H
#define CAIRN_EVENT_FILE_H

#include <stdbool.h>

#include "commands/command.h"

struct store;

/* Whether an operand of a command is a slug.
 * Returns: EXIT_GOOD; EXIT_INPUT, and the command line is reported as wrong. */
int check_slug(const struct command *command, const char *slug);

/* The path of the event file, for the caller to free.
 * Returns: EXIT_GOOD; an exit code, and `*path` is NULL: as check_slug, or memory is out. */
int event_file_path(const struct command *command, const char *data_dir, const char *slug,
                    char **path);

/* Opens the event file as STORE_OPEN.
 *   to_read  by store_open_to_read, which reads where it cannot write
 *   out      for store_close; NULL where it could not be opened
 * Returns: ERR_OK; ERR_INPUT where there is none, or it is none; ERR_*. */
int event_file_open(const char *data_dir, const char *slug, bool to_read, struct store **out);

#endif
