/* SPDX-License-Identifier: MIT */
#include "event/document_changes.h"

#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

static void check(enum document document, const char *before, const char *now, const char *car,
                  const char *expected) {
    struct textbuf b = {0};
    assert_int_equal(document_changes(document, before, now, car, &b), ERR_OK);
    assert_string_equal(textbuf_text(&b), expected);
    textbuf_clear(&b);
}

#define HEAD "number,driver,navigator,year\n"

static void cars_new_gone_and_changed(void **state) {
    (void)state;
    check(DOCUMENT_ENTRIES, HEAD "1,A,B,1929\n2,C,,1930\n3,E,F,1931\n",
          HEAD "3,E,F,1931\n1,A,G,1928\n4,H,,1932\n", "",
          "car 1: navigator B → G, year 1929 → 1928\n"
          "car 4 is new: H, 1932\n"
          "car 2 is gone: C, 1930\n");
}

static void columns_in_any_order_and_of_one_list_only(void **state) {
    (void)state;
    check(DOCUMENT_ENTRIES, HEAD "1,A,B,1929\n", "year;number;driver;navigator\n1929;1;A;B\n", "",
          "");
    check(DOCUMENT_ENTRIES, "number,driver,club\n1,A,Rooks\n", "number,driver,team\n1,A,Crows\n",
          "", "car 1: team – → Crows, club Rooks → –\n");
}

static void what_concerns_one_car_only(void **state) {
    (void)state;
    check(DOCUMENT_ENTRIES, HEAD "1,A,B,1929\n11,C,,1930\n", HEAD "1,A,G,1929\n11,D,,1930\n", "11",
          "car 11: driver C → D\n");
    check(DOCUMENT_RULES, "{\"a\": 1}", "{\"a\": 2}", "11", "");
}

static void start_times_by_day_and_car(void **state) {
    (void)state;
    check(DOCUMENT_STARTS, "day,car,time\n1,5,08:05\n2,5,09:05\n", "day,car,time\n2,5,09:07\n", "",
          "day 2, car 5: time 09:05 → 09:07\n"
          "day 1, car 5 is gone: 08:05\n");
    /* day 1 and car 12 are others than day 11 and car 2 */
    check(DOCUMENT_STARTS, "day,car,time\n1,12,08:05\n11,2,09:05\n",
          "day,car,time\n11,2,09:05\n1,12,08:07\n", "", "day 1, car 12: time 08:05 → 08:07\n");
}

static void rules_by_their_path_and_what_has_an_id_by_it(void **state) {
    (void)state;
    check(DOCUMENT_RULES,
          "{\"name\": \"A\", \"scoring\": {\"grace\": 1.5, \"old\": [1, 2]},"
          " \"route\": [{\"id\": \"TC1\", \"target\": \"00:45\"}, {\"id\": \"TC2\"}]}",
          "{\"name\": \"B\", \"scoring\": {\"grace\": 1.25, \"cap\": {\"late\": 2.50}},"
          " \"route\": [{\"id\": \"PC1\"}, {\"id\": \"TC1\", \"target\": \"00:50\"}]}",
          "",
          "name: A → B\n"
          "scoring.grace: 1.5 → 1.25\n"
          "scoring.cap: new, {\"late\":2.50}\n"
          "scoring.old: gone, was [1,2]\n"
          "route[PC1]: new, {\"id\":\"PC1\"}\n"
          "route[TC1].target: 00:45 → 00:50\n"
          "route[TC2]: gone, was {\"id\":\"TC2\"}\n");
}

static void lists_without_ids_by_their_place(void **state) {
    (void)state;
    check(DOCUMENT_RULES, "{\"ties\": [\"a\", \"b\"]}", "{\"ties\": [\"b\", \"b\", \"c\"]}", "",
          "ties[0]: a → b\nties[2]: new, c\n");
}

static void nothing_without_a_document_before(void **state) {
    (void)state;
    check(DOCUMENT_ENTRIES, NULL, HEAD "1,A,B,1929\n", "", "");
}

static void many_lines_are_counted_and_long_ones_cut(void **state) {
    (void)state;
    struct textbuf now = {0};
    struct textbuf b = {0};
    textbuf_puts(&now, "number,driver\n");
    for (int i = 1; i <= CHANGE_LINES_MAX + 5; i++)
        textbuf_printf(&now, "%d,%0300d\n", i, i);
    assert_int_equal(
        document_changes(DOCUMENT_ENTRIES, "number,driver\n", textbuf_text(&now), "", &b), ERR_OK);
    assert_non_null(strstr(textbuf_text(&b), "\nand 5 more\n"));
    assert_non_null(strstr(textbuf_text(&b), "000…\n"));
    assert_true(b.len < 200 * CHANGE_LINES_MAX);
    textbuf_clear(&now);
    textbuf_clear(&b);
}

static void line_breaks_in_a_cell_break_no_line(void **state) {
    (void)state;
    check(DOCUMENT_ENTRIES, "number,driver\n1,\"A\nB\"\n", "number,driver\n1,C\n", "",
          "car 1: driver A B → C\n");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cars_new_gone_and_changed),
        cmocka_unit_test(columns_in_any_order_and_of_one_list_only),
        cmocka_unit_test(what_concerns_one_car_only),
        cmocka_unit_test(start_times_by_day_and_car),
        cmocka_unit_test(rules_by_their_path_and_what_has_an_id_by_it),
        cmocka_unit_test(lists_without_ids_by_their_place),
        cmocka_unit_test(nothing_without_a_document_before),
        cmocka_unit_test(many_lines_are_counted_and_long_ones_cut),
        cmocka_unit_test(line_breaks_in_a_cell_break_no_line),
    };
    RUN_BEHAVIOURS(tests);
}
