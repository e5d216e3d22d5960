/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "base/err.h"
#include "pages/comparison.h"
#include "scoring/view.h"

/* Three cars on a route of four items, of which the last is to come for car 31. */
enum { CARS = 3, ITEMS = 4 };

static int64_t values[CARS][ITEMS] = {
    {1000, 5000, 0, 2000}, {1000, 1000, 3000, 0}, {0, 9000, 0, 0}};
static unsigned char flags[CARS][ITEMS] = {{0}, {0, 0, 0, ITEM_TO_COME}, {0, ITEM_DROPPED, 0, 0}};
static int fails[CARS][ITEMS];
static bool visible[ITEMS] = {true, true, true, true};
static struct entry list[CARS] = {
    {.number = 22, .driver = "Ada Esk", .navigator = "", .make = "", .model = "", .team = ""},
    {.number = 31, .driver = "Bram Esk", .navigator = "", .make = "", .model = "", .team = ""},
    {.number = 40, .driver = "Cora Marl", .navigator = "", .make = "", .model = "", .team = ""}};
static struct entries entries = {.list = list, .count = CARS};
static struct item items[ITEMS];
static struct rules rules = {.items = items, .item_count = ITEMS};
static const struct event event = {.rules = &rules, .entries = &entries};
static const struct view view = {.visible = visible};
static struct car_score cars[CARS];
static const struct scores scores = {.event = &event, .view = &view, .cars = cars};

static struct request asked;
static struct comparison c;

/* Total, fails and place of each; 500 of the first one's total belongs to no item. */
static int begin(void **state) {
    static const int64_t totals[CARS] = {8500, 5000, 0};
    (void)state;
    memset(entries.by_number, 0xff, sizeof entries.by_number); /* -1 */
    for (int i = 0; i < CARS; i++) {
        entries.by_number[list[i].number] = (int16_t)i;
        cars[i] = (struct car_score){
            .item_value = values[i], .item_flags = flags[i], .position = CARS - i};
        cars[i].item_fails = fails[i];
        cars[i].tally[BASIS_CORRECTED].total = totals[i];
    }
    asked = (struct request){0};
    c = (struct comparison){.s = &scores};
    return 0;
}

static int end(void **state) {
    (void)state;
    request_memory_clear(&asked);
    return 0;
}

static void compare(const char *list_of_cars) {
    c = (struct comparison){.s = &scores};
    comparison_read(&c, list_of_cars);
    assert_int_equal(comparison_fill(&c, &asked), ERR_OK);
}

static void cars_are_read_once_each_and_others_passed_over(void **state) {
    (void)state;
    comparison_read(&c, "31, 22,,x7 31,99,-1");
    assert_int_equal(c.count, 2);
    assert_int_equal(c.cars[0], 1);
    assert_int_equal(c.cars[1], 0);
    assert_true(comparison_has(&c, 0) && !comparison_has(&c, 2));
    comparison_read(&c, NULL);
    assert_int_equal(c.count, 2);
}

static void what_is_typed_adds_a_car_where_one_alone_fits(void **state) {
    (void)state;
    assert_true(comparison_add(&c, "marl"));
    assert_int_equal(c.cars[0], 2);
    assert_true(comparison_add(&c, "Cora"));
    assert_int_equal(c.count, 1);
    assert_false(comparison_add(&c, "esk"));
    assert_false(comparison_add(&c, "nobody"));
    assert_int_equal(c.count, 1);
}

static void costs_leave_nothing_of_a_total(void **state) {
    (void)state;
    compare("22,31,40");
    assert_int_equal(c.steps, ITEMS + 1);
    for (int i = 0; i < c.count; i++) {
        int64_t sum = 0;
        for (int step = 0; step < c.steps; step++)
            sum += comparison_cost(&c, i, step);
        assert_int_equal(sum, cars[c.cars[i]].tally[BASIS_CORRECTED].total);
    }
    assert_int_equal(comparison_cost(&c, 0, ITEMS), 500);
    assert_int_equal(comparison_cost(&c, 2, 1), 0); /* dropped */
}

static void gaps_end_with_what_all_have_come_to(void **state) {
    (void)state;
    compare("22,31");
    assert_int_equal(c.level, 3);
    assert_int_equal(comparison_gap(&c, 0, 0), 0);
    assert_int_equal(comparison_gap(&c, 0, 1), 4000);
    assert_int_equal(comparison_gap(&c, 0, 2), 1000);
    assert_int_equal(comparison_gap(&c, 1, 2), 0);
    assert_false(comparison_has_gap(&c, 3));
    assert_true(comparison_has_gap(&c, ITEMS));
    assert_int_equal(comparison_gap(&c, 0, ITEMS), 3500);
    assert_false(comparison_is_known(&c, 1, 3));
    assert_true(comparison_is_known(&c, 0, 3));
}

static void fails_end_the_gaps_and_tell_more_than_costs(void **state) {
    int steps[COMPARISON_TELLING];
    (void)state;
    fails[0][1] = 2;
    cars[0].tally[BASIS_CORRECTED].fails = 3;
    compare("22,31");
    assert_int_equal(comparison_fails(&c, 0, 1), 2);
    assert_int_equal(comparison_fails(&c, 0, ITEMS), 1); /* of no item */
    assert_true(comparison_has_gap(&c, 0));
    assert_false(comparison_has_gap(&c, 1));
    assert_false(comparison_has_gap(&c, ITEMS));
    assert_int_equal(comparison_telling(&c, 0, 1, steps), 2);
    assert_int_equal(steps[0], 1);
    assert_int_equal(steps[1], ITEMS);
    items[1].ties_only = true;
    compare("22,31");
    assert_int_equal(comparison_fails(&c, 0, 1), 0);
    assert_int_equal(comparison_fails(&c, 0, ITEMS), 3);
    items[1].ties_only = false;
    fails[0][1] = 0;
}

static void a_hidden_item_is_no_step(void **state) {
    (void)state;
    visible[1] = false;
    compare("22,31");
    visible[1] = true;
    assert_int_equal(c.steps, ITEMS);
    assert_int_equal(c.items[1], 2);
    /* What it cost is told with what belongs to no item. */
    assert_int_equal(comparison_cost(&c, 0, c.steps - 1), 5500);
}

static void what_made_the_difference_comes_by_its_size(void **state) {
    int steps[COMPARISON_TELLING];
    (void)state;
    compare("22,31");
    /* 5.000 to 1.000; 0 to 3.000; 500 to nothing. The first item cost both the same, and the last
     * is to come for one. */
    assert_int_equal(comparison_telling(&c, 0, 1, steps), 3);
    assert_int_equal(steps[0], 1);
    assert_int_equal(steps[1], 2);
    assert_int_equal(steps[2], ITEMS);
}

static void three_differences_are_told_at_most(void **state) {
    int steps[COMPARISON_TELLING];
    (void)state;
    values[0][0] = 1700;
    values[0][3] = 1300;
    compare("22,40");
    values[0][0] = 1000;
    values[0][3] = 2000;
    assert_int_equal(comparison_telling(&c, 0, 1, steps), COMPARISON_TELLING);
    assert_int_equal(steps[0], 1); /* 5.000 */
    assert_int_equal(steps[1], 0); /* 1.700 */
    assert_int_equal(steps[2], 3); /* 1.300 */
    compare("22,22");
    assert_int_equal(comparison_telling(&c, 0, 0, steps), 0);
}

static void fails_go_before_penalty(void **state) {
    (void)state;
    compare("22,31");
    assert_int_equal(comparison_best(&c), 1);
    assert_int_equal(comparison_behind(&c, 0, 1).penalty, 3500);
    cars[1].tally[BASIS_CORRECTED].fails = 1;
    assert_int_equal(comparison_best(&c), 0);
    assert_int_equal(comparison_behind(&c, 1, 0).fails, 1);
}

static void cars_that_have_not_come_equally_far_are_not_level(void **state) {
    (void)state;
    compare("22,31");
    assert_true(comparison_is_uneven(&c));
    assert_int_equal(comparison_level_total(&c, 0), 6500);
    assert_int_equal(comparison_level_total(&c, 1), 5000);
    cars[1].position = 0; /* it is out, and comes to nothing more */
    assert_false(comparison_is_uneven(&c));
}

static void cars_that_have_come_equally_far_are_level(void **state) {
    (void)state;
    compare("22,40");
    assert_int_equal(c.level, ITEMS);
    assert_false(comparison_is_uneven(&c));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(cars_are_read_once_each_and_others_passed_over, begin, end),
        cmocka_unit_test_setup_teardown(what_is_typed_adds_a_car_where_one_alone_fits, begin, end),
        cmocka_unit_test_setup_teardown(costs_leave_nothing_of_a_total, begin, end),
        cmocka_unit_test_setup_teardown(gaps_end_with_what_all_have_come_to, begin, end),
        cmocka_unit_test_setup_teardown(fails_end_the_gaps_and_tell_more_than_costs, begin, end),
        cmocka_unit_test_setup_teardown(a_hidden_item_is_no_step, begin, end),
        cmocka_unit_test_setup_teardown(what_made_the_difference_comes_by_its_size, begin, end),
        cmocka_unit_test_setup_teardown(three_differences_are_told_at_most, begin, end),
        cmocka_unit_test_setup_teardown(fails_go_before_penalty, begin, end),
        cmocka_unit_test_setup_teardown(cars_that_have_not_come_equally_far_are_not_level, begin,
                                        end),
        cmocka_unit_test_setup_teardown(cars_that_have_come_equally_far_are_level, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
