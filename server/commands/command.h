/* SPDX-License-Identifier: MIT */
/* command.h - what every command of the program shares: the table, options, exit codes. */
#ifndef CAIRN_COMMAND_H
#define CAIRN_COMMAND_H

#include <stdbool.h>

struct problems;
struct textbuf;

/* Exit codes of the contract, section 4. */
enum { EXIT_GOOD = 0, EXIT_MACHINE = 1, EXIT_INPUT = 2 };

struct command {
    const char *name;
    const char *summary;               /* one line */
    const char *help;                  /* the whole help text */
    int (*run)(int argc, char **argv); /* argv[0] is the command's name */
};

extern const struct command command_new;
extern const struct command command_number;
extern const struct command command_check;
extern const struct command command_score;
extern const struct command command_import;
extern const struct command command_export;
extern const struct command command_backup;
extern const struct command command_key;
extern const struct command command_serve;
extern const struct command command_publish;
extern const struct command command_send;
extern const struct command command_doctor;
extern const struct command command_merge;
extern const struct command command_follow;
extern const struct command command_restore;
extern const struct command command_promote;
extern const struct command command_startlist;
extern const struct command command_prizes;
extern const struct command command_paper;
extern const struct command command_draw;
extern const struct command command_verify;
extern const struct command command_codes;

/* The next option of a command line. Words that do not begin with "-" are gathered as operands.
 *   option   what is looked at; `value` is NULL for a flag */
struct options {
    const struct command *command;
    int argc;
    char **argv;
    int next;
    const char *operands[8];
    int operand_count;
    const char *name;  /* of the option found, without dashes */
    bool is_short;     /* it had one dash only, and is not known */
    const char *value; /* after "=", NULL */
};

/* Sets up; then call options_next until it returns false. */
void options_init(struct options *o, const struct command *command, int argc, char **argv);

/* Refuses an option that was given a value and takes none. Returns EXIT_GOOD or EXIT_INPUT. */
int options_no_value(const struct options *o);

/* True where an option was found: read name and value. */
bool options_next(struct options *o);

/* The value of the option just found: behind "=" or the next word; NULL (with a message on
 * standard error) where there is none. */
const char *options_value(struct options *o);

/* Says that an option is not known. Returns EXIT_INPUT. */
int options_unknown(const struct options *o);

/* Says on standard error that a command line is wrong. Returns EXIT_INPUT. */
int usage_error(const struct command *command, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Prints problems on standard error, a line each; warnings and doubts are marked as such. */
void print_problems(const struct problems *problems);

/* Writes a buffer to standard output. Returns EXIT_GOOD or EXIT_MACHINE (reported). */
int print_output(const struct textbuf *b);

/* The exit code of a result, with a message on standard error for a failure of the machine. */
int exit_code(int err);

#endif
