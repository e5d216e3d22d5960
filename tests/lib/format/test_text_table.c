/* SPDX-License-Identifier: MIT */
#include "format/text_table.h"

#include <string.h>

#include "base/textbuf.h"
#include "testing.h"

/* Adds the cells of a row. */
static void add_row(struct text_table *table, const char *const *cells) {
    struct textbuf cell = {0};
    for (; *cells != NULL; cells++) {
        textbuf_puts(&cell, *cells);
        text_table_cell(table, &cell);
        assert_int_equal(cell.len, 0);
    }
    textbuf_clear(&cell);
}

static void assert_written(struct text_table *table, const char *expected) {
    struct textbuf b = {0};
    text_table_write(table, &b);
    assert_false(b.failed);
    assert_string_equal(textbuf_text(&b), expected);
    assert_int_equal(table->columns, 0);
    assert_null(table->cells);
    textbuf_clear(&b);
}

BEHAVIOUR(columns_are_as_wide_as_their_widest_cell) {
    struct text_table table = {0};
    text_table_column(&table, "No", true);
    text_table_column(&table, "Crew", false);
    text_table_column(&table, "Class", false);
    add_row(&table, (const char *[]){"7", "A. Thorne / M. Vale", "D", NULL});
    add_row(&table, (const char *[]){"122", "S. Loam", "C-2", NULL});
    assert_written(&table, " No  Crew                 Class\n"
                           "───  ───────────────────  ─────\n"
                           "  7  A. Thorne / M. Vale  D\n"
                           "122  S. Loam              C-2\n");
}

BEHAVIOUR(width_is_counted_in_columns_of_the_font_and_not_in_bytes) {
    struct text_table table = {0};
    text_table_column(&table, "Driver", false);
    text_table_column(&table, "Year", true);
    add_row(&table, (const char *[]){"Zdeňka Holečko", "1934", NULL});
    add_row(&table, (const char *[]){"林 道子", "1955", NULL});
    assert_written(&table, "Driver          Year\n"
                           "──────────────  ────\n"
                           "Zdeňka Holečko  1934\n"
                           "林 道子         1955\n");
}

BEHAVIOUR(a_very_long_cell_pushes_its_own_row_and_widens_no_other) {
    static const char longest[] =
        "0123456789012345678901234567890123456789012345678901234567890123456"
        "789012345678901234567890123456789";
    struct text_table table = {0};
    struct textbuf b = {0};
    text_table_column(&table, "Reason", false);
    text_table_column(&table, "Car", true);
    add_row(&table, (const char *[]){longest, "1", NULL});
    add_row(&table, (const char *[]){"short", "2", NULL});
    text_table_write(&table, &b);
    assert_non_null(strstr(textbuf_text(&b), "789    1\n"));
    const char *last = strstr(textbuf_text(&b), "short");
    assert_non_null(last);
    assert_int_equal(strlen(last), 90 + 2 + 3 + 1);
    textbuf_clear(&b);
}

BEHAVIOUR(control_characters_of_a_cell_become_blanks) {
    struct text_table table = {0};
    text_table_column(&table, "Note", false);
    add_row(&table, (const char *[]){"two\nlines\x1b[2J", NULL});
    assert_written(&table, "Note\n"
                           "─────────────\n"
                           "two lines [2J\n");
}

BEHAVIOUR(a_table_without_rows_has_its_heads) {
    struct text_table table = {0};
    text_table_column(&table, "Place", true);
    text_table_column(&table, "Team", false);
    assert_written(&table, "Place  Team\n─────  ────\n");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_are_as_wide_as_their_widest_cell),
        cmocka_unit_test(width_is_counted_in_columns_of_the_font_and_not_in_bytes),
        cmocka_unit_test(a_very_long_cell_pushes_its_own_row_and_widens_no_other),
        cmocka_unit_test(control_characters_of_a_cell_become_blanks),
        cmocka_unit_test(a_table_without_rows_has_its_heads),
    };
    RUN_BEHAVIOURS(tests);
}
