/* SPDX-License-Identifier: MIT */
/* options.h - the options of a command as a table: read by getopt_long, printed by --help.
 *
 *   --name VALUE   or --name=VALUE; a value on its own does not begin with "--"
 *   --name         a flag
 *   --             only operands follow
 *
 * Options and operands come in any order. A name is given whole: a later version's options change
 * no old command line. What is given twice holds as given last, unless its `take` gathers. Not for
 * two threads at once, since getopt_long has state of its own. */
#ifndef CAIRN_OPTIONS_H
#define CAIRN_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct textbuf;

/* What an option's value is, and what stands at `at` in the command's own struct for it. */
enum option_kind {
    OPTION_FLAG,   /* no value: a bool, which becomes true */
    OPTION_TEXT,   /* a const char *, borrowed from the command line */
    OPTION_NUMBER, /* a whole number from `least` to `most`: an int64_t */
    OPTION_CHOICE, /* one of `choices`: an int, its place among them */
    OPTION_TAKEN   /* what `take` makes of it; `at` is not used */
};

struct option_row {
    const char *name; /* without dashes; NULL ends the table */
    enum option_kind kind;
    const char *value; /* what --help calls the value; NULL for a flag */
    const char *help;  /* lines for --help, "\n" between them */
    size_t at;         /* bytes from the start of the struct, see offsetof */
    int64_t least, most;
    const char *const *choices; /* NULL ends them */

    /* Takes a value.
     *   options  the command's own struct
     *   value    of the command line, writable
     *   why      holds "--name"; gets how the sentence goes on, as in " is no date"
     * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. */
    int (*take)(void *options, const char *name, char *value, struct textbuf *why);
};

enum { OPTIONS_MAX = 32 }; /* rows of a table */

/* What a command line holds besides options. */
struct command_line {
    bool help;       /* --help was given; nothing behind it was read */
    char **operands; /* `count` of them, in the command line's own array */
    int count;
};

/* Reads a command line.
 *   rows        the table; a second row of a name adds a line to --help only. NULL: no options
 *   argc, argv  as of main; argv[0] is passed over. The array is sorted: options, then operands
 *   options     the command's own struct, with the defaults
 *   why         gets what is wrong
 * Returns: ERR_OK; ERR_INPUT, with `why`; ERR_NOMEM. */
int options_read(const struct option_row *rows, int argc, char **argv, void *options,
                 struct command_line *out, struct textbuf *why);

/* Appends the table for --help: a line or more an option. Nothing for NULL. */
void options_write(const struct option_row *rows, struct textbuf *b);

#endif
