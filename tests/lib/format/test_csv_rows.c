/* SPDX-License-Identifier: MIT */
#include "format/csv_rows.h"

#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

static void table_of(struct csv_rows *table, const char *text, bool typed) {
    *table = (struct csv_rows){0};
    assert_int_equal(csv_rows_read(table, text, strlen(text), typed), ERR_OK);
}

BEHAVIOUR(cells_are_found_by_row_and_name_of_their_column) {
    struct csv_rows table;
    table_of(&table, "number,driver\n1,\"Ann, A.\"\n\n22,Cai\n", false);
    assert_int_equal(table.rows, 3);
    assert_int_equal(table.columns, 2);
    assert_int_equal(csv_rows_find(&table, "driver"), 1);
    assert_int_equal(csv_rows_find(&table, "team"), -1);
    assert_string_equal(csv_rows_cell(&table, 0, 1), "driver");
    assert_string_equal(csv_rows_cell(&table, 1, 1), "Ann, A.");
    assert_string_equal(csv_rows_cell(&table, 2, 0), "22");
    assert_int_equal(table.lines[2], 4);
    csv_rows_clear(&table);
}

BEHAVIOUR(a_cell_that_is_not_there_is_empty) {
    struct csv_rows table;
    table_of(&table, "number\n1\n", false);
    assert_string_equal(csv_rows_cell(&table, 2, 0), "");
    assert_string_equal(csv_rows_cell(&table, 1, -1), "");
    csv_rows_clear(&table);
    table_of(&table, "", false);
    assert_int_equal(table.rows, 0);
    assert_int_equal(csv_rows_find(&table, "number"), -1);
    assert_string_equal(csv_rows_cell(&table, 0, 0), "");
    csv_rows_clear(&table);
}

BEHAVIOUR(rows_that_do_not_fit_are_left_out_and_named_by_their_line) {
    struct csv_rows table;
    table_of(&table, "number,driver\n1\n2,\"Cai\" B\n3,Dot\n4,E,F\n", false);
    assert_int_equal(table.rows, 2);
    assert_string_equal(csv_rows_cell(&table, 1, 1), "Dot");
    assert_int_equal(table.fault_count, 3);
    assert_int_equal(table.faults[0].line, 2);
    assert_string_equal(table.faults[0].why, "has another number of fields than the header");
    assert_int_equal(table.faults[1].line, 3);
    assert_string_equal(table.faults[1].why, "text stands behind a closing quote");
    assert_int_equal(table.faults[2].line, 5);
    csv_rows_clear(&table);
}

BEHAVIOUR(what_was_typed_may_have_tabs_blanks_and_empty_rows) {
    static const char text[] = "number\tdriver\n 1 \tAnn \n \t \n2\t Cai\n";
    struct csv_rows table;
    table_of(&table, text, true);
    assert_int_equal(table.rows, 3);
    assert_string_equal(csv_rows_cell(&table, 1, 0), "1");
    assert_string_equal(csv_rows_cell(&table, 1, 1), "Ann");
    assert_string_equal(csv_rows_cell(&table, 2, 1), "Cai");
    csv_rows_clear(&table);
    table_of(&table, text, false);
    assert_int_equal(table.columns, 1);
    assert_string_equal(csv_rows_cell(&table, 1, 0), " 1 \tAnn ");
    csv_rows_clear(&table);
}

BEHAVIOUR(columns_past_the_most_are_left_out_and_said_so) {
    struct csv_rows table;
    struct textbuf text = {0};
    for (int i = 0; i <= CSV_ROWS_COLUMNS_MAX; i++)
        textbuf_printf(&text, "%sc%d", i > 0 ? "," : "", i);
    textbuf_putc(&text, '\n');
    for (int i = 0; i <= CSV_ROWS_COLUMNS_MAX; i++)
        textbuf_printf(&text, "%s%d", i > 0 ? "," : "", i);
    table_of(&table, textbuf_text(&text), false);
    assert_true(table.too_wide);
    assert_int_equal(table.columns, CSV_ROWS_COLUMNS_MAX);
    assert_int_equal(table.rows, 2);
    assert_string_equal(csv_rows_cell(&table, 1, CSV_ROWS_COLUMNS_MAX - 1), "63");
    csv_rows_clear(&table);
    textbuf_clear(&text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cells_are_found_by_row_and_name_of_their_column),
        cmocka_unit_test(a_cell_that_is_not_there_is_empty),
        cmocka_unit_test(rows_that_do_not_fit_are_left_out_and_named_by_their_line),
        cmocka_unit_test(what_was_typed_may_have_tabs_blanks_and_empty_rows),
        cmocka_unit_test(columns_past_the_most_are_left_out_and_said_so),
    };
    RUN_BEHAVIOURS(tests);
}
