/* SPDX-License-Identifier: MIT */
#include "format/csv_columns.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event_text.h"
#include "testing.h"

enum { COL_NAME, COL_YEAR, COL_NOTE, COL_COUNT };

static const struct column columns[COL_COUNT] = {{"name", true}, {"year", true}, {"note", false}};

struct fixture {
    struct csv_columns table;
    struct arena *arena;
    struct problems problems;
};

static int open_table(struct fixture *f, const char *text) {
    *f = (struct fixture){.arena = arena_new()};
    assert_non_null(f->arena);
    return csv_columns_open(&f->table, "cars.csv", text, strlen(text), columns, COL_COUNT, f->arena,
                            &f->problems);
}

static void close_table(struct fixture *f) {
    csv_columns_close(&f->table);
    arena_free(f->arena);
    problems_clear(&f->problems);
}

static void check_problems(struct fixture *f, const char *expected) {
    char *text = problems_text(&f->problems);
    assert_string_equal(text, expected);
    free(text);
}

BEHAVIOUR(columns_stand_in_any_order) {
    struct fixture f;
    assert_int_equal(open_table(&f, "year,note,name\n1925,old,Calder\n"), ERR_OK);
    assert_int_equal(csv_columns_next(&f.table), CSV_ROW);
    assert_string_equal(csv_columns_field(&f.table, COL_NAME), "Calder");
    assert_string_equal(csv_columns_field(&f.table, COL_YEAR), "1925");
    assert_string_equal(csv_columns_field(&f.table, COL_NOTE), "old");
    assert_int_equal(csv_columns_next(&f.table), CSV_END);
    check_problems(&f, "");
    close_table(&f);
}

BEHAVIOUR(a_column_that_is_not_there_reads_as_empty) {
    struct fixture f;
    assert_int_equal(open_table(&f, "name,year\nCalder,1925\n"), ERR_OK);
    assert_int_equal(csv_columns_next(&f.table), CSV_ROW);
    assert_string_equal(csv_columns_field(&f.table, COL_NOTE), "");
    close_table(&f);
}

BEHAVIOUR(a_column_that_must_be_there_is_missed) {
    struct fixture f;
    assert_int_equal(open_table(&f, "note\nold\n"), ERR_INPUT);
    check_problems(&f, "cars.csv:1: column “name” is missing\n"
                       "cars.csv:1: column “year” is missing\n");
    close_table(&f);
}

BEHAVIOUR(an_unknown_column_is_told_once_and_kept_with_each_row) {
    struct fixture f;
    struct extra *extras = NULL;
    assert_int_equal(open_table(&f, "name,colour,year,shoe\nA,red,1925,\nB,blue,1926,L\n"), ERR_OK);
    assert_int_equal(f.problems.by_level[PROBLEM_WARNING], 2);
    assert_int_equal(csv_columns_next(&f.table), CSV_ROW);
    assert_int_equal(csv_columns_extras(&f.table, &extras), ERR_OK);
    assert_string_equal(extras->name, "colour");
    assert_string_equal(extras->value, "red");
    assert_null(extras->next); /* an empty field holds nothing to keep */
    assert_int_equal(csv_columns_next(&f.table), CSV_ROW);
    struct extra *second = NULL;
    assert_int_equal(csv_columns_extras(&f.table, &second), ERR_OK);
    assert_string_equal(second->value, "blue");
    /* what was kept of the row before is still there */
    assert_string_equal(extras->value, "red");
    assert_int_equal(f.problems.by_level[PROBLEM_WARNING], 2);
    check_problems(&f, "cars.csv:1: column “colour” is not known; it is kept, and nothing else\n"
                       "cars.csv:1: column “shoe” is not known; it is kept, and nothing else\n");
    close_table(&f);
}

static char *wide_header(const char *name, int count) {
    struct textbuf b = {0};
    textbuf_puts(&b, "name,year");
    for (int i = 0; i < count; i++)
        textbuf_printf(&b, name, i);
    textbuf_putc(&b, '\n');
    assert_false(b.failed);
    return b.bytes;
}

BEHAVIOUR(sixty_four_unknown_columns_are_kept_and_more_refused) {
    struct fixture f;
    char *text = wide_header(",c%d", EXTRAS_MAX);
    assert_int_equal(open_table(&f, text), ERR_OK);
    assert_int_equal(f.problems.by_level[PROBLEM_WARNING], EXTRAS_MAX);
    close_table(&f);
    free(text);
    text = wide_header(",c%d", EXTRAS_MAX + 1);
    assert_int_equal(open_table(&f, text), ERR_INPUT);
    check_problems(
        &f, "cars.csv:1: the header has 67 columns: at most 64 that are not known are kept\n");
    close_table(&f);
    free(text);
}

/* One problem is reported, and no name is kept, however many columns there are. */
BEHAVIOUR(an_absurd_header_is_refused_before_its_names_are_looked_at) {
    static const char *const names[] = {",c%d", ",", ",same", ",year"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        struct fixture f;
        char *text = wide_header(names[i], 300000);
        assert_int_equal(open_table(&f, text), ERR_INPUT);
        check_problems(&f,
                       "cars.csv:1: the header has 300002 columns: at most 64 that are not known"
                       " are kept\n");
        assert_null(f.table.header);
        close_table(&f);
        free(text);
    }
}

BEHAVIOUR(a_table_without_unknown_columns_has_no_extras) {
    struct fixture f;
    struct extra *extras = (struct extra *)&f;
    assert_int_equal(open_table(&f, "name,year\nA,1925\n"), ERR_OK);
    assert_int_equal(csv_columns_next(&f.table), CSV_ROW);
    assert_int_equal(csv_columns_extras(&f.table, &extras), ERR_OK);
    assert_null(extras);
    close_table(&f);
}

BEHAVIOUR(a_column_that_stands_twice_is_an_error) {
    struct fixture f;
    assert_int_equal(open_table(&f, "name,year,name\n"), ERR_INPUT);
    check_problems(&f, "cars.csv:1: column “name” stands twice\n");
    close_table(&f);
}

BEHAVIOUR(names_of_columns_are_exact) {
    struct fixture f;
    assert_int_equal(open_table(&f, "Name, year\n"), ERR_INPUT);
    check_problems(
        &f,
        "cars.csv:1: column “Name” is not known; it is kept, and nothing else: is “name” meant?\n"
        "cars.csv:1: column “ year” is not known; it is kept, and nothing else: is “year” meant?\n"
        "cars.csv:1: column “name” is missing\n"
        "cars.csv:1: column “year” is missing\n");
    close_table(&f);
}

BEHAVIOUR(a_row_of_another_width_is_bad_and_the_next_is_read) {
    struct fixture f;
    assert_int_equal(open_table(&f, "name,year\nA\nB,1,2\n\nC,1927\n"), ERR_OK);
    assert_int_equal(csv_columns_next(&f.table), CSV_BAD);
    assert_string_equal(f.table.csv.wrong, "fewer fields than the header has");
    assert_int_equal(csv_columns_next(&f.table), CSV_BAD);
    assert_string_equal(
        f.table.csv.wrong,
        "more fields than the header has: a comma parts fields; write numbers with a point, and put a text with commas in quotes");
    assert_int_equal(csv_columns_next(&f.table), CSV_ROW);
    assert_int_equal(f.table.csv.line, 5);
    assert_string_equal(csv_columns_field(&f.table, COL_NAME), "C");
    check_problems(&f, "");
    close_table(&f);
}

BEHAVIOUR(a_file_needs_a_header) {
    static const struct {
        const char *text;
        const char *problem;
    } rows[] = {
        {"", "cars.csv:1: the file is empty: it needs a header row\n"},
        {"\n\n", "cars.csv:1: the file is empty: it needs a header row\n"},
        {"\"name,year\n", "cars.csv:1: a quoted field is not closed\n"},
        {"\nna\xFFme\n", "cars.csv:2: the text is not UTF-8\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct fixture f;
        assert_int_equal(open_table(&f, rows[i].text), ERR_INPUT);
        check_problems(&f, rows[i].problem);
        close_table(&f);
    }
}

BEHAVIOUR(errors_from_before_do_not_spoil_a_good_header) {
    struct fixture f = {.arena = arena_new()};
    static const char text[] = "name,year\nA,1925\n";
    problems_add(&f.problems, PROBLEM_ERROR, "other.csv", 3, "was wrong");
    assert_int_equal(csv_columns_open(&f.table, "cars.csv", text, strlen(text), columns, COL_COUNT,
                                      f.arena, &f.problems),
                     ERR_OK);
    close_table(&f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_stand_in_any_order),
        cmocka_unit_test(a_column_that_is_not_there_reads_as_empty),
        cmocka_unit_test(a_column_that_must_be_there_is_missed),
        cmocka_unit_test(an_unknown_column_is_told_once_and_kept_with_each_row),
        cmocka_unit_test(sixty_four_unknown_columns_are_kept_and_more_refused),
        cmocka_unit_test(an_absurd_header_is_refused_before_its_names_are_looked_at),
        cmocka_unit_test(a_table_without_unknown_columns_has_no_extras),
        cmocka_unit_test(a_column_that_stands_twice_is_an_error),
        cmocka_unit_test(names_of_columns_are_exact),
        cmocka_unit_test(a_row_of_another_width_is_bad_and_the_next_is_read),
        cmocka_unit_test(a_file_needs_a_header),
        cmocka_unit_test(errors_from_before_do_not_spoil_a_good_header),
    };
    RUN_BEHAVIOURS(tests);
}
