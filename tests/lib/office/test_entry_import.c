/* SPDX-License-Identifier: MIT */
#include "office/entry_import.h"

#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "event_text.h"
#include "testing.h"

#define TC1 "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}"
#define HEADER "number,driver,navigator,make,model,year\n"

static const char now[] = HEADER "7,A,B,Calder,Six,1929\n3,C,,Calder,Four,1911\n";

struct fixture {
    struct rules *rules;
    struct problems problems;
    struct entry_import import;
    int err;
};

static void lay_over(struct fixture *f, const char *given, bool whole) {
    *f = (struct fixture){.rules = rules_good(RULES(FIVA, "{}", TC1))};
    f->err = entry_import_make(f->rules, now, strlen(now), given, strlen(given), whole,
                               &f->problems, &f->import);
}

static void clear(struct fixture *f) {
    entry_import_clear(&f->import);
    problems_clear(&f->problems);
    rules_free(f->rules);
}

/* The list that comes of it, and each row as “line result number”. */
static void check(const char *given, bool whole, const char *rows, const char *list) {
    static const char *const words[] = {"added", "changed", "same", "refused"};
    struct fixture f;
    struct textbuf written = {0};
    lay_over(&f, given, whole);
    assert_int_equal(f.err, ERR_OK);
    for (size_t i = 0; i < f.import.count; i++)
        textbuf_printf(&written, "%s%ld %s %s", i > 0 ? ", " : "", f.import.rows[i].line,
                       words[f.import.rows[i].result], f.import.rows[i].number);
    assert_string_equal(textbuf_text(&written), rows);
    if (list != NULL) {
        assert_int_equal(f.import.refused, 0);
        assert_string_equal(textbuf_text(&f.import.text), list);
    }
    textbuf_clear(&written);
    clear(&f);
}

BEHAVIOUR(cars_that_are_not_given_stay_where_they_stood) {
    check(HEADER "9,D,,Calder,Six,1930\n3,C,E,Calder,Four,1911\n", false, "2 added 9, 3 changed 3",
          HEADER "7,A,B,Calder,Six,1929\n3,C,E,Calder,Four,1911\n9,D,,Calder,Six,1930\n");
}

BEHAVIOUR(a_whole_list_is_that_list) {
    check(HEADER "9,D,,Calder,Six,1930\n3,C,,Calder,Four,1911\n", true, "2 added 9, 3 same 3",
          HEADER "9,D,,Calder,Six,1930\n3,C,,Calder,Four,1911\n");
}

BEHAVIOUR(columns_that_are_not_given_stay_and_new_ones_follow) {
    check("Club\tNUMBER\tyear\nRooks\t 07 \t1930\n", false, "2 changed 07",
          "number,driver,navigator,make,model,year,club\n"
          "07,A,B,Calder,Six,1930,Rooks\n3,C,,Calder,Four,1911,\n");
}

BEHAVIOUR(a_whole_list_empties_the_columns_that_it_lacks) {
    struct fixture f;
    lay_over(&f, "number,driver,make,model,year,navigator\n7,A,Calder,Six,1929,\n", true);
    assert_int_equal(f.err, ERR_OK);
    assert_int_equal(f.import.rows[0].result, IMPORT_CHANGED);
    assert_string_equal(f.import.rows[0].changes->column, "navigator");
    assert_string_equal(f.import.rows[0].changes->before, "B");
    assert_string_equal(f.import.rows[0].changes->now, "");
    assert_null(f.import.rows[0].changes->next);
    clear(&f);
}

/* The line that a message of the whole list names is not that of what was given. */
BEHAVIOUR(what_is_wrong_stands_with_the_row_that_brought_it) {
    struct fixture f;
    lay_over(&f,
             HEADER "3,\"C\nof the hill\",,Calder,Four,then\n9,D,,Calder,Six,1930\n8,,,Calder,Six,"
                    "1700\n9,E,,Calder,Six,1931\n5,F\n",
             false);
    assert_int_equal(f.err, ERR_OK);
    assert_int_equal(f.import.refused, 4);
    assert_int_equal(f.import.rows[0].line, 2);
    assert_string_equal(f.import.rows[0].reason, "year “then” must be from 1885 to 2100");
    assert_int_equal(f.import.rows[1].result, IMPORT_ADDED);
    assert_string_equal(f.import.rows[2].reason,
                        "year “1700” must be from 1885 to 2100; the driver's name is empty");
    assert_string_equal(f.import.rows[3].reason, "number 9 stands twice, first in line 4");
    assert_int_equal(f.import.rows[4].line, 7);
    assert_string_equal(f.import.rows[4].reason, "has another number of fields than the header");
    clear(&f);
}

BEHAVIOUR(columns_may_be_written_in_capitals) {
    check("NUMBER,DRIVER,NAVIGATOR,MAKE,MODEL,YEAR\n3,C,E,Calder,Four,1911\n", false, "2 changed 3",
          HEADER "7,A,B,Calder,Six,1929\n3,C,E,Calder,Four,1911\n");
}

BEHAVIOUR(what_is_no_list) {
    static const char *const lists[] = {"", "driver,year\nA,1929\n", "\"number"};
    for (size_t i = 0; i < sizeof lists / sizeof lists[0]; i++) {
        struct fixture f;
        lay_over(&f, lists[i], false);
        assert_int_equal(f.err, ERR_INPUT);
        assert_non_null(strstr(f.problems.list[0].text, "there is no column “number”"));
        clear(&f);
    }
    struct fixture f;
    struct textbuf wide = {0};
    for (int i = 0; i < 65; i++)
        textbuf_printf(&wide, "%sc%d", i > 0 ? "," : "number,", i);
    lay_over(&f, textbuf_text(&wide), false);
    assert_int_equal(f.err, ERR_INPUT);
    assert_string_equal(f.problems.list[0].text, "has more than 64 columns");
    textbuf_clear(&wide);
    clear(&f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cars_that_are_not_given_stay_where_they_stood),
        cmocka_unit_test(a_whole_list_is_that_list),
        cmocka_unit_test(columns_that_are_not_given_stay_and_new_ones_follow),
        cmocka_unit_test(a_whole_list_empties_the_columns_that_it_lacks),
        cmocka_unit_test(what_is_wrong_stands_with_the_row_that_brought_it),
        cmocka_unit_test(columns_may_be_written_in_capitals),
        cmocka_unit_test(what_is_no_list),
    };
    RUN_BEHAVIOURS(tests);
}
