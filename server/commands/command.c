/* SPDX-License-Identifier: MIT */
#include "commands/command.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"

static int print_help(const struct command *command) {
    struct textbuf b = {0};
    textbuf_puts(&b, command->about);
    if (command->options != NULL)
        textbuf_putc(&b, '\n');
    options_write(command->options, &b);
    if (command->notes != NULL)
        textbuf_printf(&b, "\n%s", command->notes);
    int code = print_output(&b);
    textbuf_clear(&b);
    return code;
}

static int run_with(const struct command *command, int argc, char **argv, void *options) {
    struct command_line line;
    struct textbuf why = {0};
    int err = options_read(command->options, argc, argv, options, &line, &why);
    int code = err == ERR_INPUT ? usage_error(command, "%s", textbuf_text(&why)) : exit_code(err);
    textbuf_clear(&why);
    if (code != EXIT_GOOD)
        return code;
    if (line.help)
        return print_help(command);
    if (line.count < command->least || line.count > command->most)
        return usage_error(command, "it needs %s", command->needs);
    return command->run(&(struct arguments){options, line.operands, line.count});
}

int command_run(const struct command *command, int argc, char **argv) {
    void *options = NULL;
    if (command->size > 0) {
        options = malloc(command->size);
        if (options == NULL)
            return exit_code(ERR_NOMEM);
        memcpy(options, command->defaults, command->size);
    }
    int code = run_with(command, argc, argv, options);
    if (command->clear != NULL)
        command->clear(options);
    free(options);
    return code;
}

int usage_error(const struct command *command, const char *format, ...) {
    va_list args;
    va_start(args, format);
    (void)fprintf(stderr, "cairn %s: ", command->name);
    (void)vfprintf(stderr, format, args);
    (void)fprintf(stderr, " (see cairn %s --help)\n", command->name);
    va_end(args);
    return EXIT_INPUT;
}

int print_output(const struct textbuf *b) {
    if (b->failed)
        return exit_code(ERR_NOMEM);
    if (fwrite(b->bytes, 1, b->len, stdout) != b->len || fflush(stdout) != 0) {
        (void)fprintf(stderr, "cairn: cannot write: %s\n", strerror(errno));
        return EXIT_MACHINE;
    }
    return EXIT_GOOD;
}

int exit_code(int err) {
    if (err == ERR_OK)
        return EXIT_GOOD;
    if (err == ERR_INPUT)
        return EXIT_INPUT;
    (void)fprintf(stderr, "cairn: %s\n", err_text(err));
    return EXIT_MACHINE;
}
