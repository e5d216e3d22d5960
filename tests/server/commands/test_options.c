/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "commands/options.h"

struct wanted {
    bool quick;
    const char *name;
    int64_t tries;
    int colour;
    int taken;
    char last[16];
};

static const char *const colours[] = {"red", "green", NULL};

static int take_pair(void *options, const char *name, char *value, struct textbuf *why) {
    struct wanted *w = options;
    (void)name;
    textbuf_puts(why, " needs A=B");
    if (strchr(value, '=') == NULL)
        return ERR_INPUT;
    (void)strncpy(w->last, value, sizeof w->last - 1);
    w->taken++;
    return ERR_OK;
}

static const struct option_row rows[] = {
    {"quick", OPTION_FLAG, NULL, "sooner", .at = offsetof(struct wanted, quick)},
    {"name", OPTION_TEXT, "TEXT", "what it is called,\nin two lines",
     .at = offsetof(struct wanted, name)},
    {"tries", OPTION_NUMBER, "N", "how often", .at = offsetof(struct wanted, tries), .least = 1,
     .most = 9},
    {"colour", OPTION_CHOICE, "WHAT", "red or green", .at = offsetof(struct wanted, colour),
     .choices = colours},
    {"pair", OPTION_TAKEN, "A=B", "one", .take = take_pair},
    {"pair", OPTION_TAKEN, "A=NOTHING-AT-ALL", "none", .take = take_pair},
    {0},
};

enum { WORDS_MAX = 16 };

/* A command line of words with one blank between, read. */
static int read_line(const char *text, struct wanted *w, struct command_line *line,
                     struct textbuf *why) {
    static char copy[256];
    static char *argv[WORDS_MAX + 2];
    char *rest = NULL;
    int argc = 1;
    argv[0] = (char *)"test";
    (void)strncpy(copy, text, sizeof copy - 1);
    for (char *p = strtok_r(copy, " ", &rest); p != NULL; p = strtok_r(NULL, " ", &rest)) {
        assert_true(argc <= WORDS_MAX);
        argv[argc++] = p;
    }
    argv[argc] = NULL;
    *w = (struct wanted){0};
    return options_read(rows, argc, argv, w, line, why);
}

static struct wanted good(const char *text, struct command_line *line) {
    struct wanted w;
    struct textbuf why = {0};
    assert_int_equal(read_line(text, &w, line, &why), ERR_OK);
    assert_string_equal(textbuf_text(&why), "");
    textbuf_clear(&why);
    return w;
}

static void refused(const char *text, const char *said) {
    struct wanted w;
    struct command_line line;
    struct textbuf why = {0};
    assert_int_equal(read_line(text, &w, &line, &why), ERR_INPUT);
    assert_string_equal(textbuf_text(&why), said);
    textbuf_clear(&why);
}

static void each_kind_of_value_reaches_its_place(void **state) {
    struct command_line line;
    (void)state;
    struct wanted w = good("--quick --name Fell --tries 9 --colour green --pair a=b", &line);
    assert_true(w.quick);
    assert_string_equal(w.name, "Fell");
    assert_int_equal(w.tries, 9);
    assert_int_equal(w.colour, 1);
    assert_int_equal(w.taken, 1);
    assert_int_equal(line.count, 0);
    assert_false(line.help);
}

static void a_value_may_stand_behind_an_equals_sign(void **state) {
    struct command_line line;
    (void)state;
    assert_string_equal(good("--name=Fell", &line).name, "Fell");
    assert_string_equal(good("--name=", &line).name, "");
    assert_string_equal(good("--name=--quick", &line).name, "--quick");
    assert_string_equal(good("--pair=a=b", &line).last, "a=b");
}

static void operands_stand_anywhere_and_keep_their_order(void **state) {
    struct command_line line;
    (void)state;
    struct wanted w = good("one --name Fell two --quick - three", &line);
    assert_true(w.quick);
    assert_int_equal(line.count, 4);
    assert_string_equal(line.operands[0], "one");
    assert_string_equal(line.operands[1], "two");
    assert_string_equal(line.operands[2], "-");
    assert_string_equal(line.operands[3], "three");
}

static void two_dashes_end_the_options(void **state) {
    struct command_line line;
    (void)state;
    struct wanted w = good("--tries 2 -- --quick -v", &line);
    assert_false(w.quick);
    assert_int_equal(w.tries, 2);
    assert_int_equal(line.count, 2);
    assert_string_equal(line.operands[0], "--quick");
    assert_string_equal(line.operands[1], "-v");
}

static void what_is_given_twice_holds_as_given_last(void **state) {
    struct command_line line;
    (void)state;
    struct wanted w = good("--name A --quick --name=B --quick --pair a=b --pair c=d", &line);
    assert_string_equal(w.name, "B");
    assert_true(w.quick);
    assert_int_equal(w.taken, 2);
    assert_string_equal(w.last, "c=d");
}

static void help_ends_the_reading(void **state) {
    struct command_line line;
    (void)state;
    (void)good("one --help --nonsense", &line);
    assert_true(line.help);
    refused("--nonsense --help", "--nonsense is not known");
    refused("--help=yes", "--help takes no value");
}

static void unknown_options_are_named(void **state) {
    (void)state;
    refused("--fast", "--fast is not known");
    refused("--fast=1 x", "--fast is not known");
    refused("x --Quick", "--Quick is not known");
    refused("-v", "-v is not known");
    refused("-quick", "-q is not known");
    refused("--=x", "-- is not known");
}

static void a_name_is_given_whole(void **state) {
    (void)state;
    refused("--qui", "--qui is not known");
    refused("--nam Fell", "--nam is not known");
    refused("--nam=Fell", "--nam is not known");
    refused("--hel", "--hel is not known");
}

static void a_missing_value_is_told(void **state) {
    (void)state;
    refused("--name", "--name needs a value");
    refused("--name --quick", "--name needs a value");
    refused("--name --", "--name needs a value");
    refused("one --tries", "--tries needs a value");
}

static void a_flag_takes_no_value(void **state) {
    struct command_line line;
    (void)state;
    refused("--quick=yes", "--quick takes no value");
    refused("--quick=", "--quick takes no value");
    assert_int_equal(good("--quick yes", &line).quick, true);
    assert_int_equal(line.count, 1);
}

static void wrong_values_are_told(void **state) {
    (void)state;
    refused("--tries 0", "--tries must be a whole number from 1 to 9");
    refused("--tries 10", "--tries must be a whole number from 1 to 9");
    refused("--tries -1", "--tries must be a whole number from 1 to 9");
    refused("--tries 1.5", "--tries must be a whole number from 1 to 9");
    refused("--tries=", "--tries must be a whole number from 1 to 9");
    refused("--colour blue", "--colour blue is not known");
    refused("--colour gre", "--colour gre is not known");
    refused("--pair a", "--pair needs A=B");
}

static void a_command_without_options_has_its_help(void **state) {
    char *argv[] = {(char *)"test", (char *)"one", (char *)"--help", NULL};
    struct command_line line;
    struct textbuf b = {0};
    (void)state;
    assert_int_equal(options_read(NULL, 2, argv, NULL, &line, &b), ERR_OK);
    assert_int_equal(line.count, 1);
    assert_int_equal(options_read(NULL, 3, argv, NULL, &line, &b), ERR_OK);
    assert_true(line.help);
    options_write(NULL, &b);
    assert_string_equal(textbuf_text(&b), "");
    textbuf_clear(&b);
}

static void the_table_is_told_in_two_columns(void **state) {
    struct textbuf b = {0};
    (void)state;
    options_write(rows, &b);
    assert_string_equal(textbuf_text(&b), "  --quick        sooner\n"
                                          "  --name TEXT    what it is called,\n"
                                          "                 in two lines\n"
                                          "  --tries N      how often\n"
                                          "  --colour WHAT  red or green\n"
                                          "  --pair A=B     one\n"
                                          "  --pair A=NOTHING-AT-ALL\n"
                                          "                 none\n");
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_kind_of_value_reaches_its_place),
        cmocka_unit_test(a_value_may_stand_behind_an_equals_sign),
        cmocka_unit_test(operands_stand_anywhere_and_keep_their_order),
        cmocka_unit_test(two_dashes_end_the_options),
        cmocka_unit_test(what_is_given_twice_holds_as_given_last),
        cmocka_unit_test(help_ends_the_reading),
        cmocka_unit_test(unknown_options_are_named),
        cmocka_unit_test(a_name_is_given_whole),
        cmocka_unit_test(a_missing_value_is_told),
        cmocka_unit_test(a_flag_takes_no_value),
        cmocka_unit_test(wrong_values_are_told),
        cmocka_unit_test(a_command_without_options_has_its_help),
        cmocka_unit_test(the_table_is_told_in_two_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
