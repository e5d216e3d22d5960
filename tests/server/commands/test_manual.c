/* SPDX-License-Identifier: MIT */
/* What deploy/cairn.1 says, held against the table of commands and the options of each. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/textbuf.h"
#include "commands/commands.h"
#include "system/files.h"

static char *manual;

static int read_manual(void **state) {
    size_t len = 0;
    (void)state;
    return file_read("deploy/cairn.1", &manual, &len);
}

static int free_manual(void **state) {
    (void)state;
    free(manual);
    return 0;
}

/* A copy of what stands behind a line, as far as another or the end; fails where the first is not
 * there. The caller frees. */
static char *part(const char *text, const char *from, const char *until) {
    const char *begin = strstr(text, from);
    if (begin == NULL)
        fail_msg("no line “%s”", from);
    begin += strlen(from);
    const char *end = strstr(begin, until);
    return end == NULL ? strdup(begin) : strndup(begin, (size_t)(end - begin));
}

/* The lines of a command: in the synopsis, or in the list of what commands do. */
static char *lines_of(const struct command *command, bool in_synopsis) {
    char mark[64];
    char *whole = in_synopsis ? part(manual, "\n.Sh SYNOPSIS", "\n.Sh ")
                              : part(manual, "\n.Bl -tag -width startlist", "\n.El\n");
    (void)snprintf(mark, sizeof mark, in_synopsis ? "\n.Nm\n.Cm %s\n" : "\n.It Cm %s\n",
                   command->name);
    char *lines = part(whole, mark, in_synopsis ? ".Nm\n" : ".It Cm ");
    free(whole);
    return lines;
}

/* How the synopsis has the first row of an option: "Fl -interval Ar D | GROUP=D", with the values
 * of the rows behind it that bear the same name. */
static void write_option(const struct option_row *row, struct textbuf *b) {
    const char *name = row->name;
    textbuf_printf(b, "Fl -%s", name);
    if (row->value != NULL)
        textbuf_printf(b, " Ar %s", row->value);
    for (row++; row->name != NULL; row++) {
        if (strcmp(row->name, name) == 0)
            textbuf_printf(b, " | %s", row->value);
    }
    textbuf_putc(b, '\n');
}

static bool is_first_of_its_name(const struct option_row *rows, const struct option_row *row) {
    for (; rows < row; rows++) {
        if (strcmp(rows->name, row->name) == 0)
            return false;
    }
    return true;
}

static bool is_option(const struct command *command, const char *name, size_t len) {
    for (const struct option_row *row = command->options; row != NULL && row->name != NULL; row++) {
        if (strlen(row->name) == len && strncmp(row->name, name, len) == 0)
            return true;
    }
    return false;
}

/* The names of commands in some lines, one behind another, as "new check score ". */
static char *names_in(const char *text, const char *mark) {
    struct textbuf b = {0};
    for (const char *at = text; (at = strstr(at, mark)) != NULL;) {
        at += strlen(mark);
        textbuf_add(&b, at, strcspn(at, " \n"));
        textbuf_putc(&b, ' ');
    }
    assert_false(b.failed);
    return b.bytes;
}

static void every_command_is_there_in_the_order_of_the_help(void **state) {
    struct textbuf names = {0};
    char *synopsis = part(manual, "\n.Sh SYNOPSIS\n", "\n.Ar command\n");
    char *list = part(manual, "\n.Bl -tag -width startlist\n", "\n.El\n");
    char *used = names_in(synopsis, ".Nm\n.Cm ");
    char *told = names_in(list, ".It Cm ");
    (void)state;
    for (size_t i = 0; i < command_count; i++)
        textbuf_printf(&names, "%s ", commands[i]->name);
    assert_string_equal(used, textbuf_text(&names));
    assert_string_equal(told, textbuf_text(&names));
    textbuf_clear(&names);
    free(used);
    free(told);
    free(synopsis);
    free(list);
}

static void the_synopsis_has_every_option(void **state) {
    int count = 0;
    (void)state;
    for (size_t i = 0; i < command_count; i++) {
        const struct option_row *rows = commands[i]->options;
        char *lines = lines_of(commands[i], true);
        for (const struct option_row *row = rows; row != NULL && row->name != NULL; row++) {
            struct textbuf option = {0};
            write_option(row, &option);
            if (is_first_of_its_name(rows, row) && strstr(lines, textbuf_text(&option)) == NULL)
                fail_msg("%s: no %s", commands[i]->name, textbuf_text(&option));
            textbuf_clear(&option);
            count++;
        }
        free(lines);
    }
    assert_true(count > 60);
}

static void the_manual_names_no_option_that_is_none(void **state) {
    (void)state;
    for (size_t i = 0; i < 2 * command_count; i++) {
        const struct command *command = commands[i / 2];
        char *lines = lines_of(command, i % 2 == 0);
        for (const char *at = lines; (at = strstr(at, "Fl -")) != NULL;) {
            at += strlen("Fl -");
            size_t len = strspn(at, "abcdefghijklmnopqrstuvwxyz-");
            if (!is_option(command, at, len))
                fail_msg("%s: --%.*s is no option", command->name, (int)len, at);
        }
        free(lines);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_command_is_there_in_the_order_of_the_help),
        cmocka_unit_test(the_synopsis_has_every_option),
        cmocka_unit_test(the_manual_names_no_option_that_is_none),
    };
    return cmocka_run_group_tests(tests, read_manual, free_manual);
}
