/* SPDX-License-Identifier: MIT */
/* command.h - what every command of the program is: a name, its help, options, operands, and what
 * it does. */
#ifndef CAIRN_COMMAND_H
#define CAIRN_COMMAND_H

#include <stddef.h>

#include "commands/options.h"

struct textbuf;

/* Exit codes of the contract, section 4. */
enum { EXIT_GOOD = 0, EXIT_MACHINE = 1, EXIT_INPUT = 2 };

/* What a command is run with. */
struct arguments {
    void *options;   /* the command's own struct; NULL where it has none */
    char **operands; /* `count` of them: words that are no options */
    int count;
};

struct command {
    const char *name;
    const char *summary; /* one line for cairn --help */

    /* --help prints `about`, the options, `notes`, with a blank line between. */
    const char *about;
    const struct option_row *options; /* NULL for none */
    const char *notes;                /* NULL for none */

    /* How many operands there may be, and what is said where there are others: "it needs …". */
    int least, most;
    const char *needs;

    /* The struct that options are read into, as it is without any: a copy is made. NULL where
     * `options` is. */
    const void *defaults;
    size_t size;
    void (*clear)(void *options); /* frees what the struct owns; NULL for nothing */

    /* Returns an exit code. What is wrong is reported on standard error. */
    int (*run)(const struct arguments *arguments);
};

/* Reads the command line and runs the command, or prints its help.
 *   argv  argv[0] is the command's name
 * Returns: the exit code. */
int command_run(const struct command *command, int argc, char **argv);

/* Says on standard error that a command line is wrong. Returns EXIT_INPUT. */
int usage_error(const struct command *command, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Writes a buffer to standard output. Returns EXIT_GOOD or EXIT_MACHINE (reported). */
int print_output(const struct textbuf *b);

/* The exit code of a result, with a message on standard error for a failure of the machine. */
int exit_code(int err);

#endif
