/* SPDX-License-Identifier: MIT */
#include "event/classes.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "event_text.h"
#include "testing.h"

#define ONE_CONTROL "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}"

/* Rules whose "classes" is the text; the caller frees them. */
static struct rules *rules_with(const char *classes) {
    struct textbuf b = {0};
    textbuf_puts(
        &b, "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': 'UTC', 'unit': 'km', "
            "'days': [{'date': '2027-05-20', 'first_start': '08:01', 'interval': '00:01:00'}], "
            "'classes': ");
    textbuf_puts(&b, classes);
    textbuf_puts(&b, ", 'route': [" ONE_CONTROL "]}");
    struct rules *rules = rules_good(textbuf_text(&b));
    textbuf_clear(&b);
    return rules;
}

/* What is said of a wrong "classes". */
static char *said_of(const char *classes) {
    struct textbuf b = {0};
    struct problems problems = {0};
    struct rules *rules = NULL;
    textbuf_puts(
        &b, "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': 'UTC', 'unit': 'km', "
            "'days': [{'date': '2027-05-20', 'first_start': '08:01', 'interval': '00:01:00'}], "
            "'classes': ");
    textbuf_puts(&b, classes);
    textbuf_puts(&b, ", 'route': [" ONE_CONTROL "]}");
    char *json = quoted(textbuf_text(&b));
    assert_int_equal(rules_read(json, strlen(json), &problems, &rules), ERR_INPUT);
    assert_null(rules);
    char *said = problems_text(&problems);
    free(json);
    textbuf_clear(&b);
    problems_clear(&problems);
    return said;
}

struct year_row {
    int year;
    const char *id; /* NULL: no period */
};

static void check_years(const char *classes, const struct year_row *rows, size_t count) {
    struct rules *rules = rules_with(classes);
    for (size_t i = 0; i < count; i++) {
        int period = rules_period_of(rules, rows[i].year);
        const char *id = period < 0 ? NULL : rules->periods[period].id;
        if ((id == NULL) != (rows[i].id == NULL) || (id != NULL && strcmp(id, rows[i].id) != 0))
            fail_msg("%d is in %s", rows[i].year, id == NULL ? "none" : id);
    }
    rules_free(rules);
}

BEHAVIOUR(fiva_classes_have_their_bounds) {
    static const struct year_row rows[] = {
        {1885, "A"}, {1904, "A"}, {1905, "B"}, {1918, "B"}, {1919, "C"}, {1930, "C"}, {1931, "D"},
        {1945, "D"}, {1946, "E"}, {1960, "E"}, {1961, "F"}, {1970, "F"}, {1971, "G"}, {2100, "G"},
    };
    check_years("{'scheme': 'fiva'}", rows, COUNT_OF(rows));
}

BEHAVIOUR(appendix_k_periods_have_their_bounds) {
    static const struct year_row rows[] = {
        {1885, "A"},  {1904, "A"},  {1905, "B"},  {1918, "B"},  {1919, "C"},  {1930, "C"},
        {1931, "D"},  {1946, "D"},  {1947, "E"},  {1961, "E"},  {1962, "F"},  {1965, "F"},
        {1966, "G1"}, {1969, "G1"}, {1970, "G2"}, {1971, "G2"}, {1972, "H1"}, {1975, "H1"},
        {1976, "H2"}, {1977, "I"},  {1981, "I"},  {1982, "J1"}, {1985, "J1"}, {1986, "J2"},
        {1990, "J2"}, {1991, NULL}, {2100, NULL},
    };
    check_years("{'scheme': 'appendix-k'}", rows, COUNT_OF(rows));
}

BEHAVIOUR(the_edition_of_2025_moves_the_last_two_periods) {
    static const struct year_row rows[] = {{1981, "I"},  {1982, "J1"}, {1987, "J1"},
                                           {1988, "J2"}, {1992, "J2"}, {1993, NULL}};
    check_years("{'scheme': 'appendix-k', 'edition': 2025}", rows, COUNT_OF(rows));
    static const struct year_row before[] = {
        {1985, "J1"}, {1986, "J2"}, {1990, "J2"}, {1991, NULL}};
    check_years("{'scheme': 'appendix-k', 'edition': 2024}", before, COUNT_OF(before));
}

BEHAVIOUR(custom_periods_are_inclusive_and_may_be_open) {
    static const struct year_row rows[] = {{1885, "old"}, {1930, "old"}, {1931, NULL},
                                           {1939, NULL},  {1940, "mid"}, {1940, "mid"},
                                           {1950, "mid"}, {1951, "new"}, {2100, "new"}};
    check_years("{'scheme': 'custom', 'periods': [{'id': 'new', 'from': 1951}, {'id': 'old', "
                "'to': 1930}, {'id': 'mid', 'from': 1940, 'to': 1950}]}",
                rows, COUNT_OF(rows));
}

BEHAVIOUR(a_period_may_be_left_out_of_the_overall) {
    struct rules *rules =
        rules_with("{'scheme': 'custom', 'periods': [{'id': 'a', 'to': 1930, 'overall': false}, "
                   "{'id': 'b', 'name': 'Later', 'from': 1931}]}");
    assert_false(rules->periods[0].overall);
    assert_true(rules->periods[1].overall);
    assert_string_equal(rules->periods[0].name, "a");
    assert_string_equal(rules->periods[1].name, "Later");
    rules_free(rules);
}

BEHAVIOUR(capacity_bounds_are_inclusive_and_unknown_is_nought) {
    static const struct {
        int64_t cc;
        int capacity;
    } rows[] = {{-1, 0},   {0, 0},    {1, 0},    {1600, 0},   {1601, 1},
                {3000, 1}, {3001, 2}, {9999, 2}, {1000000, 2}};
    struct rules *rules = rules_with(
        "{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1600}, {'id': '2', 'to': 3000}, "
        "{'id': '3'}]}");
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_int_equal(rules_capacity_of(rules, rows[i].cc, false), rows[i].capacity);
    assert_int_equal(rules_class_count(rules), 7 * 3);
    rules_free(rules);
}

BEHAVIOUR(a_supercharger_multiplies_first_and_the_product_is_cut) {
    struct rules *rules =
        rules_with("{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1600}, {'id': '2'}], "
                   "'supercharged_factor': '1.4'}");
    assert_int_equal(rules_capacity_of(rules, 1143, true), 0); /* 1600.2 is cut to 1600 */
    assert_int_equal(rules_capacity_of(rules, 1144, true), 1); /* 1601.6 */
    assert_int_equal(rules_capacity_of(rules, 1144, false), 0);
    assert_int_equal(rules_capacity_of(rules, -1, true), 0);
    rules_free(rules);
    rules = rules_with("{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1600}, {'id': '2'}]}");
    assert_int_equal(rules_capacity_of(rules, 1600, true), 0);
    rules_free(rules);
}

BEHAVIOUR(a_class_is_period_and_capacity) {
    struct rules *rules =
        rules_with("{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1600}, {'id': '2'}]}");
    struct textbuf b = {0};
    rules_class_id(rules, 3 * 2 + 0, &b);
    textbuf_putc(&b, ' ');
    rules_class_id(rules, 3 * 2 + 1, &b);
    assert_string_equal(textbuf_text(&b), "D-1 D-2");
    textbuf_reset(&b);
    rules_class_name(rules, 3 * 2 + 0, &b);
    textbuf_puts(&b, "; ");
    rules_class_name(rules, 3 * 2 + 1, &b);
    assert_string_equal(textbuf_text(&b), "Post-vintage, to 1600 cc; Post-vintage, over 1600 cc");
    rules_free(rules);
    rules = rules_with("{'scheme': 'fiva'}");
    textbuf_reset(&b);
    rules_class_id(rules, 2, &b);
    textbuf_putc(&b, ' ');
    rules_class_name(rules, 2, &b);
    assert_string_equal(textbuf_text(&b), "C Vintage");
    assert_int_equal(rules_class_count(rules), 7);
    rules_free(rules);
    textbuf_clear(&b);
}

BEHAVIOUR(categories_have_names_and_may_stand_outside_the_overall) {
    struct rules *rules =
        rules_with("{'scheme': 'fiva', 'categories': [{'id': 'touring', 'name': 'Touring', "
                   "'overall': false}, {'id': 'open'}]}");
    assert_int_equal(rules->category_count, 2);
    assert_string_equal(rules->categories[0].name, "Touring");
    assert_false(rules->categories[0].overall);
    assert_string_equal(rules->categories[1].name, "open");
    assert_true(rules->categories[1].overall);
    rules_free(rules);
}

BEHAVIOUR(groups_are_found_by_their_ids) {
    struct rules *rules = rules_with("{'scheme': 'fiva', 'groups': [{'id': 'low', 'name': 'Lower "
                                     "averages'}, {'id': 'ladies'}]}");
    assert_int_equal(rules->group_count, 2);
    assert_string_equal(rules->groups[0].name, "Lower averages");
    assert_string_equal(rules->groups[1].name, "ladies");
    assert_int_equal(rules_group_of(rules, "low;ladies", 3), 0);
    assert_int_equal(rules_group_of(rules, "ladies", 6), 1);
    assert_int_equal(rules_group_of(rules, "ladies", 5), -1);
    assert_int_equal(rules_group_of(rules, "", 0), -1);
    rules_free(rules);
}

BEHAVIOUR(an_event_has_at_most_as_many_groups_as_an_entry_can_name) {
    for (int count = GROUPS_MAX; count <= GROUPS_MAX + 1; count++) {
        struct textbuf b = {0};
        textbuf_puts(&b, "{'scheme': 'fiva', 'groups': [");
        for (int i = 0; i < count; i++)
            textbuf_printf(&b, "%s{'id': 'g%d'}", i > 0 ? ", " : "", i);
        textbuf_puts(&b, "]}");
        if (count == GROUPS_MAX) {
            struct rules *rules = rules_with(textbuf_text(&b));
            assert_int_equal(rules->group_count, GROUPS_MAX);
            rules_free(rules);
        } else {
            char *said = said_of(textbuf_text(&b));
            assert_string_equal(said, "event.json: classes.groups: must hold at most 64\n");
            free(said);
        }
        textbuf_clear(&b);
    }
}

BEHAVIOUR(wrong_classes_are_told_with_their_place) {
    static const struct {
        const char *classes;
        const char *said;
    } rows[] = {
        {"{}", "event.json: classes.scheme: is missing\n"},
        {"{'scheme': 'eras'}",
         "event.json: classes.scheme: must be one of “fiva”, “appendix-k”, “custom”\n"},
        {"{'scheme': 'fiva', 'period': []}", "event.json: classes.period: unknown key\n"},
        {"{'scheme': 'custom'}", "event.json: classes.periods: is missing\n"},
        {"{'scheme': 'fiva', 'periods': [{'id': 'a'}]}",
         "event.json: classes.periods: goes with the scheme “custom” only\n"},
        {"{'scheme': 'fiva', 'edition': 2025}",
         "event.json: classes.edition: goes with the scheme “appendix-k” only\n"},
        {"{'scheme': 'custom', 'periods': [{'id': 'a', 'to': 1930}, {'id': 'b', 'from': 1930}]}",
         "event.json: classes.periods[1]: overlaps period “a”\n"},
        {"{'scheme': 'custom', 'periods': [{'id': 'a', 'to': 1930}, {'id': 'a', 'from': 1931}]}",
         "event.json: classes.periods[1].id: “a” stands twice\n"},
        {"{'scheme': 'custom', 'periods': [{'id': 'a', 'from': 1931, 'to': 1930}]}",
         "event.json: classes.periods[0].to: is before “from”\n"},
        {"{'scheme': 'custom', 'periods': [{'id': 'a', 'form': 1931}]}",
         "event.json: classes.periods[0].form: unknown key\n"},
        {"{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1600}]}",
         "event.json: classes.capacity[0].to: the last capacity class is open: leave “to” out\n"},
        {"{'scheme': 'fiva', 'capacity': [{'id': '1'}, {'id': '2'}]}",
         "event.json: classes.capacity[0].to: is missing\n"},
        {"{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1600}, {'id': '2', 'to': 1600}, "
         "{'id': '3'}]}",
         "event.json: classes.capacity[1].to: must be above the class before\n"},
        {"{'scheme': 'fiva', 'categories': [{'id': 'a'}, {'id': 'a'}]}",
         "event.json: classes.categories[1].id: “a” stands twice\n"},
        {"{'scheme': 'fiva', 'categories': [{'id': 'a b'}]}",
         "event.json: classes.categories[0].id: “a b” must be 1 to 32 of A-Z a-z 0-9 _ -\n"},
        {"{'scheme': 'fiva', 'groups': [{'id': 'a'}, {'id': 'a'}]}",
         "event.json: classes.groups[1].id: “a” stands twice\n"},
        {"{'scheme': 'fiva', 'groups': [{'id': 'a;b'}]}",
         "event.json: classes.groups[0].id: “a;b” must be 1 to 32 of A-Z a-z 0-9 _ -\n"},
        {"{'scheme': 'fiva', 'groups': [{'id': 'a', 'overall': false}]}",
         "event.json: classes.groups[0].overall: unknown key\n"},
        {"{'scheme': 'fiva', 'groups': [{'name': 'Ladies'}]}",
         "event.json: classes.groups[0].id: is missing\n"},
        {"{'scheme': 'fiva', 'supercharged_factor': '1.4001'}",
         "event.json: classes.supercharged_factor: “1.4001” has more than three decimals\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char *said = said_of(rows[i].classes);
        assert_string_equal(said, rows[i].said);
        free(said);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fiva_classes_have_their_bounds),
        cmocka_unit_test(appendix_k_periods_have_their_bounds),
        cmocka_unit_test(the_edition_of_2025_moves_the_last_two_periods),
        cmocka_unit_test(custom_periods_are_inclusive_and_may_be_open),
        cmocka_unit_test(a_period_may_be_left_out_of_the_overall),
        cmocka_unit_test(capacity_bounds_are_inclusive_and_unknown_is_nought),
        cmocka_unit_test(a_supercharger_multiplies_first_and_the_product_is_cut),
        cmocka_unit_test(a_class_is_period_and_capacity),
        cmocka_unit_test(categories_have_names_and_may_stand_outside_the_overall),
        cmocka_unit_test(groups_are_found_by_their_ids),
        cmocka_unit_test(an_event_has_at_most_as_many_groups_as_an_entry_can_name),
        cmocka_unit_test(wrong_classes_are_told_with_their_place),
    };
    RUN_BEHAVIOURS(tests);
}
