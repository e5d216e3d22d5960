/* SPDX-License-Identifier: MIT */
#include "event/car_route.h"

#include <string.h>

#include "base/textbuf.h"
#include "event/car_choice.h"
#include "event_text.h"
#include "testing.h"

#define CLASSES                                                                                    \
    "{'scheme': 'fiva', 'groups': [{'id': 'low'}, {'id': 'high'}], "                               \
    "'categories': [{'id': 'tour'}], 'capacity': [{'id': '1', 'to': 1000}, {'id': '2'}]}"

#define ENTRIES                                                                                    \
    "number,driver,navigator,make,model,year,engine_cc,category,groups\n"                          \
    "1,A,,M,X,1925,900,,\n"                                                                        \
    "2,B,,M,X,1935,900,,low\n"                                                                     \
    "3,C,,M,X,1925,2000,tour,high\n"                                                               \
    "4,D,,M,X,1925,900,tour,low;high\n"                                                            \
    "5,E,,M,X,1926,900,,\n"

#define TC(id, more)                                                                               \
    "{'day': 1, 'id': '" id "', 'kind': 'time-control', 'target': '00:10:00'" more "}"

static struct model *read_route(const char *route) {
    struct event_text texts = {.rules = route, .entries = ENTRIES};
    return event_text_good(&texts);
}

static int64_t target_of(const struct model *model, int car, int item) {
    const struct item *held = car_item(&model->event, car, item);
    return held == NULL ? TIME_NONE : held->road.target;
}

BEHAVIOUR(each_way_of_naming_cars_is_known_and_the_first_line_that_fits_holds) {
    static const struct {
        const char *line;
        bool holds[5]; /* by car */
    } rows[] = {
        {"'group': 'low'", {false, true, false, true, false}},
        {"'group': ['low', 'high']", {false, true, true, true, false}},
        {"'category': 'tour'", {false, false, true, true, false}},
        {"'period': 'D'", {false, true, false, false, false}},
        {"'class': 'C-1'", {true, false, false, true, true}},
        {"'class': ['C-2', 'D-1']", {false, true, true, false, false}},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf route = {0};
        textbuf_printf(&route,
                       RULES(CLASSES, "{}",
                             TC("TC1", ", 'for': [{%s, 'target': '00:12:00'}, "
                                       "{'category': 'tour', 'off': true}]")),
                       rows[i].line);
        struct model *model = read_route(textbuf_text(&route));
        for (int car = 0; car < 5; car++) {
            bool tour = car == 2 || car == 3;
            int64_t expected = rows[i].holds[car] ? 720000 : tour ? TIME_NONE : 600000;
            assert_int_equal(target_of(model, car, 0), expected);
            assert_int_equal(car_point_is_on(&model->event, car, 0), expected != TIME_NONE);
            const struct variant *line = car_variant(&model->event, car, 0);
            const struct variant *lines = model->rules->items[0].variants;
            assert_ptr_equal(line, rows[i].holds[car] ? &lines[0] : tour ? &lines[1] : NULL);
        }
        model_free(model);
        textbuf_clear(&route);
    }
}

BEHAVIOUR(cars_with_the_same_lines_share_a_route) {
    struct model *model = read_route(
        RULES(CLASSES, "{}",
              TC("TC1", ", 'for': [{'group': 'low', 'halt': '00:05:00'}]") ", " TC("TC2", "")));
    const struct entry *list = model->entries->list;
    assert_ptr_equal(list[0].route, list[2].route);
    assert_ptr_equal(list[1].route, list[3].route);
    assert_ptr_not_equal(list[0].route, list[1].route);
    assert_null(list[1].route->off);
    /* an item without lines is the item itself, on every route */
    assert_ptr_equal(car_item(&model->event, 1, 1), &model->rules->items[1]);
    /* nobody said how far it is */
    assert_int_equal(model->rules->items[0].distance, -1);
    assert_int_equal(car_item(&model->event, 1, 0)->distance, -1);
    model_free(model);
}

BEHAVIOUR(what_a_line_does_not_say_stays_as_the_item_says_it) {
    struct model *model = read_route(RULES(
        CLASSES, "{'defaults': {'time-control': {'missed': 900, 'late': 10}}}",
        TC("TC1",
           ", 'distance': 5, 'halt': '00:02:00', 'penalty': {'early': 3, 'cap': {'early': 50}}, "
           "'for': [{'group': 'low', 'penalty': {'early': 4, 'cap': 60}}]")));
    const struct item *own = &model->rules->items[0];
    const struct item *held = car_item(&model->event, 1, 0);
    assert_ptr_not_equal(own, held);
    assert_ptr_equal(held->base, own);
    assert_int_equal(held->place, 0);
    assert_int_equal(held->first_point, own->first_point);
    assert_int_equal(held->point_count, 2);
    assert_int_equal(held->first_scored, own->first_scored);
    assert_int_equal(held->scored_count, 1);
    assert_int_equal(held->distance, 5000);
    assert_int_equal(held->road.halt, 120000);
    assert_int_equal(held->rule.missed, 900000);
    assert_int_equal(held->rule.rate[SIDE_LATE], 10000);
    assert_int_equal(held->rule.rate[SIDE_EARLY], 4000);
    assert_int_equal(held->rule.cap[SIDE_LATE], 60000);
    assert_int_equal(own->rule.rate[SIDE_EARLY], 3000);
    assert_int_equal(own->rule.cap[SIDE_LATE], CAP_NONE);
    model_free(model);
}

static void check_words(const char *cars, const char *expected) {
    struct textbuf route = {0};
    struct textbuf words = {0};
    textbuf_printf(&route, RULES(CLASSES, "{}", TC("TC1", ", 'for': [{%s, 'off': true}]")), cars);
    struct model *model = read_route(textbuf_text(&route));
    car_choice_write(model->rules, &model->rules->items[0].variants[0].cars, &words);
    assert_string_equal(textbuf_text(&words), expected);
    model_free(model);
    textbuf_clear(&route);
    textbuf_clear(&words);
}

BEHAVIOUR(whom_a_line_is_for_is_said_in_words) {
    check_words("'group': 'low'", "group low");
    check_words("'group': ['low', 'high']", "groups low and high");
    check_words("'period': ['A', 'B', 'C']", "periods A, B and C");
    check_words("'class': 'D-2'", "class D-2");
    check_words("'category': ['tour']", "category tour");
}

BEHAVIOUR(a_car_is_told_by_which_of_them_it_is_one_and_its_name) {
    static const struct {
        const char *cars;
        const char *expected; /* of car 4: period C, class C-1, category tour, in both groups */
    } rows[] = {
        {"'group': ['high', 'low']", "groups high (Higher averages) and low"},
        {"'period': ['B', 'C']", "period C (Vintage)"},
        {"'category': 'tour'", "category tour"},
        {"'class': ['D-2', 'C-1']", "class C-1"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf route = {0};
        struct textbuf words = {0};
        textbuf_printf(&route,
                       RULES("{'scheme': 'fiva', 'groups': [{'id': 'low'}, "
                             "{'id': 'high', 'name': 'Higher averages'}], "
                             "'categories': [{'id': 'tour', 'name': 'Tour'}], "
                             "'capacity': [{'id': '1', 'to': 1000}, {'id': '2'}]}",
                             "{}", TC("TC1", ", 'for': [{%s, 'off': true}]")),
                       rows[i].cars);
        struct model *model = read_route(textbuf_text(&route));
        car_choice_write_of(model->rules, &model->rules->items[0].variants[0].cars,
                            &model->event.entries->list[3], &words);
        assert_string_equal(textbuf_text(&words), rows[i].expected);
        model_free(model);
        textbuf_clear(&route);
        textbuf_clear(&words);
    }
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_way_of_naming_cars_is_known_and_the_first_line_that_fits_holds),
        cmocka_unit_test(cars_with_the_same_lines_share_a_route),
        cmocka_unit_test(what_a_line_does_not_say_stays_as_the_item_says_it),
        cmocka_unit_test(whom_a_line_is_for_is_said_in_words),
        cmocka_unit_test(a_car_is_told_by_which_of_them_it_is_one_and_its_name),
    };
    RUN_BEHAVIOURS(tests);
}
