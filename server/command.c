/* SPDX-License-Identifier: MIT */
#include "command.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "err.h"
#include "problem.h"
#include "textbuf.h"

void options_init(struct options *o, int argc, char **argv) {
    *o = (struct options){.argc = argc, .argv = argv, .next = 1};
}

bool options_next(struct options *o) {
    const int room = (int)(sizeof o->operands / sizeof o->operands[0]);
    while (o->next < o->argc) {
        char *word = o->argv[o->next++];
        if (strncmp(word, "--", 2) == 0) {
            char *equals = strchr(word, '=');
            o->name = word + 2;
            o->value = NULL;
            if (equals != NULL) {
                *equals = '\0';
                o->value = equals + 1;
            }
            return true;
        }
        if (o->operand_count < room)
            o->operands[o->operand_count] = word;
        o->operand_count++;
    }
    return false;
}

const char *options_value(struct options *o) {
    if (o->value != NULL)
        return o->value;
    if (o->next < o->argc && strncmp(o->argv[o->next], "--", 2) != 0)
        return o->argv[o->next++];
    (void)fprintf(stderr, "cairn: --%s needs a value\n", o->name);
    return NULL;
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

void print_problems(const struct problems *problems) {
    static const char *const marks[] = {[PROBLEM_ERROR] = "",
                                        [PROBLEM_REFUSED] = "refused: ",
                                        [PROBLEM_WARNING] = "warning: ",
                                        [PROBLEM_DOUBT] = "doubt: "};
    for (size_t i = 0; i < problems->count; i++)
        (void)fprintf(stderr, "%s: %s%s\n", problems->list[i].place, marks[problems->list[i].level],
                      problems->list[i].text);
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
