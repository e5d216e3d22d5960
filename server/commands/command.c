/* SPDX-License-Identifier: MIT */
#include "commands/command.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"

void options_init(struct options *o, const struct command *command, int argc, char **argv) {
    *o = (struct options){.command = command, .argc = argc, .argv = argv, .next = 1};
}

int options_unknown(const struct options *o) {
    return usage_error(o->command, "%s%s is not known", o->is_short ? "-" : "--", o->name);
}

int options_no_value(const struct options *o) {
    return o->value == NULL ? EXIT_GOOD : usage_error(o->command, "--%s takes no value", o->name);
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
        /* "-v" is no file: nobody means it as one, and no option is that short. */
        if (word[0] == '-' && word[1] != '\0') {
            o->name = word + 1;
            o->value = NULL;
            o->is_short = true;
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
    (void)usage_error(o->command, "--%s needs a value", o->name);
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

/* A problem is one line, whatever text it quotes: control characters are written out. */
static void print_escaped(const char *text) {
    for (; *text != '\0'; text++) {
        unsigned char c = (unsigned char)*text;
        if (c == '\n')
            (void)fputs("\\n", stderr);
        else if (c == '\r')
            (void)fputs("\\r", stderr);
        else if (c == '\t')
            (void)fputs("\\t", stderr);
        else if (c < 0x20 || c == 0x7f)
            (void)fprintf(stderr, "\\x%02x", c);
        else if (c == 0xc2 && (unsigned char)text[1] < 0xa0) /* C1: the bytes of U+0080 to U+009F */
            (void)fprintf(stderr, "\\x%02x", (unsigned char)*++text);
        else
            (void)fputc(c, stderr);
    }
}

void print_problems(const struct problems *problems) {
    static const char *const marks[] = {[PROBLEM_ERROR] = "",
                                        [PROBLEM_REFUSED] = "refused: ",
                                        [PROBLEM_WARNING] = "warning: ",
                                        [PROBLEM_DOUBT] = "doubt: "};
    for (size_t i = 0; i < problems->count; i++) {
        print_escaped(problems->list[i].place);
        (void)fprintf(stderr, ": %s", marks[problems->list[i].level]);
        print_escaped(problems->list[i].text);
        (void)fputc('\n', stderr);
    }
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
