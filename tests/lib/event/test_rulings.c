/* SPDX-License-Identifier: MIT */
#include "event/rulings.h"

#include <string.h>

#include "event_text.h"
#include "testing.h"

#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}, "                      \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 48}], "          \
    "'checks': [{'at': 5.37}, {'at': 9.02}]}, "                                                    \
    "{'day': 2, 'id': 'TC2', 'kind': 'time-control', 'target': '00:45:00'}"

#define BY_SEQUENCE                                                                                \
    "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': 'UTC', 'unit': 'km', 'days': "       \
    "[{'date': '2027-05-20', 'first_start': '08:01', 'interval': '00:01:00', 'order': "            \
    "'sequence'}, {'date': '2027-05-21', 'first_start': '09:00:30', 'interval': '00:02:00', "      \
    "'order': 'sequence'}, {'date': '2027-05-22', 'first_start': '10:00', 'interval': 90, "        \
    "'order': 'sequence'}], 'classes': " FIVA ", 'route': [" ROUTE "]}"

#define DECISIONS "id,kind,car,point,value,reason,at\n"

static struct model *event_with(const char *rules, const char *starts, const char *decisions) {
    struct event_text texts = {.rules = rules, .starts = starts, .decisions = decisions};
    return event_text_good(&texts);
}

static int point_of(const struct model *model, const char *id) {
    int point = strmap_get(&model->rules->point_by_id, id);
    assert_true(point >= 0);
    return point;
}

static int item_of(const struct model *model, const char *id) {
    int item = strmap_get(&model->rules->item_by_id, id);
    assert_true(item >= 0);
    return item;
}

static int car_of(const struct model *model, int number) {
    int car = entries_find(model->entries, number);
    assert_true(car >= 0);
    return car;
}

/* When a car starts a day (from 1), as HHMMSS. */
static int start_of(const struct model *model, int day, int number) {
    int64_t s = rulings_start(&model->event, day - 1, car_of(model, number)) / 1000;
    return (int)(s / 3600 * 10000 + s / 60 % 60 * 100 + s % 60);
}

BEHAVIOUR(empty_numbers_keep_their_minute) {
    struct model *model = event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL, NULL);
    assert_int_equal(start_of(model, 1, 1), 80100);
    assert_int_equal(start_of(model, 1, 2), 80200);
    assert_int_equal(start_of(model, 1, 5), 80500);
    assert_int_equal(start_of(model, 2, 1), 90100);
    assert_int_equal(start_of(model, 2, 5), 90900);
    model_free(model);
}

BEHAVIOUR(a_sequence_leaves_no_gaps) {
    struct model *model = event_with(BY_SEQUENCE, NULL, NULL);
    assert_int_equal(start_of(model, 1, 1), 80100);
    assert_int_equal(start_of(model, 1, 2), 80200);
    assert_int_equal(start_of(model, 1, 5), 80300);
    assert_int_equal(start_of(model, 2, 1), 90030);
    assert_int_equal(start_of(model, 2, 5), 90430);
    model_free(model);
}

BEHAVIOUR(a_sequence_counts_no_car_retired_before_that_day) {
    struct model *model = event_with(BY_SEQUENCE, NULL,
                                     DECISIONS "a,retire,1,TC1,,engine,\n"
                                               "b,rejoin,1,,3,mended,\n");
    assert_int_equal(start_of(model, 1, 2), 80200);
    assert_int_equal(start_of(model, 2, 2), 90030);
    assert_int_equal(start_of(model, 2, 5), 90230);
    assert_int_equal(start_of(model, 3, 1), 100000);
    assert_int_equal(start_of(model, 3, 2), 100130);
    assert_int_equal(start_of(model, 3, 5), 100300);
    model_free(model);
}

BEHAVIOUR(a_car_that_never_started_leaves_no_gap_on_the_first_day) {
    struct model *model = event_with(BY_SEQUENCE, NULL, DECISIONS "a,retire,2,,,gearbox,\n");
    assert_int_equal(start_of(model, 1, 1), 80100);
    assert_int_equal(start_of(model, 1, 5), 80200);
    model_free(model);
}

BEHAVIOUR(a_retirement_that_was_revoked_is_none) {
    struct model *model = event_with(BY_SEQUENCE, NULL,
                                     DECISIONS "a,retire,1,TC1,,engine,\n"
                                               "b,revoke,,,a,wrong car,\n");
    assert_int_equal(start_of(model, 2, 2), 90230);
    assert_int_equal(model->rulings->cars[car_of(model, 1)].retirement_count, 0);
    model_free(model);
}

BEHAVIOUR(the_starts_file_comes_before_the_computed_time) {
    struct model *model = event_with(BY_SEQUENCE, "day,car,time\n2,2,11:00:30\n2,1,25:00\n", NULL);
    assert_int_equal(start_of(model, 2, 2), 110030);
    assert_int_equal(start_of(model, 2, 1), 250000);
    assert_int_equal(start_of(model, 2, 5), 90430);
    assert_int_equal(start_of(model, 1, 2), 80200);
    model_free(model);
}

BEHAVIOUR(allowances_at_one_point_add_up) {
    struct model *model = event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL,
                                     DECISIONS "a,allowance,2,R1/1,12.5,cattle,\n"
                                               "b,allowance,2,R1/1,00:01:00,gate,\n"
                                               "c,allowance,2,TC1,30,queue,\n"
                                               "d,allowance,1,R1/1,7,cattle,\n"
                                               "e,allowance,2,R1/1,99,wrong,\n"
                                               "f,revoke,,,e,wrong car,\n");
    const struct rulings *r = model->rulings;
    assert_int_equal(rulings_allowance(r, car_of(model, 2), point_of(model, "R1/1")), 72500);
    assert_int_equal(rulings_allowance(r, car_of(model, 2), point_of(model, "TC1")), 30000);
    assert_int_equal(rulings_allowance(r, car_of(model, 1), point_of(model, "R1/1")), 7000);
    assert_int_equal(rulings_allowance(r, car_of(model, 5), point_of(model, "R1/1")), 0);
    assert_int_equal(rulings_allowance(r, car_of(model, 2), point_of(model, "R1/2")), 0);
    model_free(model);
}

BEHAVIOUR(penalties_add_up_and_may_be_negative) {
    struct model *model = event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL,
                                     DECISIONS "a,penalty,2,,60,late papers,\n"
                                               "b,penalty,2,,-10.5,helped at a fire,\n");
    assert_int_equal(model->rulings->cars[car_of(model, 2)].penalty, 49500);
    model_free(model);
}

BEHAVIOUR(of_two_rulings_the_earliest_then_the_smallest_id_holds) {
    struct model *model = event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL,
                                     DECISIONS "a,notional,2,R1/1,5,r,\n"
                                               "b,notional,2,R1/1,7,r,2027-05-20T12:00:00+02:00\n"
                                               "c,notional,2,R1/1,9,r,2027-05-20T10:30:00Z\n"
                                               "d,notional,2,R1,11,r,2027-05-20T01:00:00Z\n");
    const struct rulings *r = model->rulings;
    int car = car_of(model, 2);
    assert_string_equal(
        rulings_find(r, car, DECIDE_NOTIONAL, TARGET_POINT, point_of(model, "R1/1"))->id, "b");
    assert_string_equal(
        rulings_find(r, car, DECIDE_NOTIONAL, TARGET_ITEM, item_of(model, "R1"))->id, "d");
    assert_null(rulings_find(r, car, DECIDE_WAIVE, TARGET_POINT, point_of(model, "R1/1")));
    assert_null(
        rulings_find(r, car_of(model, 1), DECIDE_NOTIONAL, TARGET_POINT, point_of(model, "R1/1")));
    model_free(model);
}

BEHAVIOUR(closing_goes_by_point_item_and_day) {
    static const struct {
        const char *decision;
        const char *closed; /* one letter a point, in route order: x is closed */
    } rows[] = {
        {DECISIONS "a,close,,R1/1,,r,\n", "...x..."},
        {DECISIONS "a,close,,R1,,r,\n", "..xxx.."},
        {DECISIONS "a,close,,TC1,,r,\n", "xx....."},
        {DECISIONS "a,close,,day:1,,r,\n", "xxxxx.."},
        {DECISIONS "a,close,,day:2,,r,\n", ".....xx"},
        {DECISIONS "a,close,,TC2/out,,r,\n", "......x"},
        {DECISIONS "a,close,,R1,,r,\nb,revoke,,,a,r,\n", "......."},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct model *model =
            event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL, rows[i].decision);
        assert_int_equal(model->rules->point_count, strlen(rows[i].closed));
        for (int p = 0; p < model->rules->point_count; p++)
            assert_int_equal(model->rulings->closed[p], rows[i].closed[p] == 'x');
        model_free(model);
    }
}

BEHAVIOUR(retirements_know_their_place) {
    struct model *model = event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL,
                                     DECISIONS "a,retire,1,,,never came,\n"
                                               "b,retire,2,R1,,engine,\n"
                                               "c,retire,5,R1/1,,brakes,\n"
                                               "d,rejoin,2,,2,mended,\n");
    const struct retirement *never = &model->rulings->cars[car_of(model, 1)].retirements[0];
    assert_int_equal(never->position, -1);
    assert_int_equal(never->day, -1);
    const struct retirement *whole = &model->rulings->cars[car_of(model, 2)].retirements[0];
    assert_int_equal(whole->position, point_of(model, "R1/2"));
    assert_int_equal(whole->day, 0);
    const struct retirement *point = &model->rulings->cars[car_of(model, 5)].retirements[0];
    assert_int_equal(point->position, point_of(model, "R1/1"));
    assert_int_equal(model->rulings->cars[car_of(model, 2)].rejoin_count, 1);
    assert_int_equal(model->rulings->cars[car_of(model, 2)].rejoin_days[0], 1);
    model_free(model);
}

BEHAVIOUR(cancelling_is_for_a_point_or_an_item) {
    struct model *model = event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL,
                                     DECISIONS "a,cancel,,R1/2,,r,\nb,cancel,,TC1,,r,\n"
                                               "c,cancel,,R1/2,,earlier,2027-05-20T08:00:00Z\n");
    const struct rulings *r = model->rulings;
    assert_string_equal(r->cancelled_point[point_of(model, "R1/2")]->id, "c");
    assert_null(r->cancelled_point[point_of(model, "R1/1")]);
    assert_null(r->cancelled_item[item_of(model, "R1")]);
    assert_string_equal(r->cancelled_item[item_of(model, "TC1")]->id, "b");
    model_free(model);
}

BEHAVIOUR(a_disqualification_is_kept_by_the_car) {
    struct model *model =
        event_with(RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), NULL, DECISIONS "a,disqualify,5,,,r,\n");
    assert_non_null(model->rulings->cars[car_of(model, 5)].disqualified);
    assert_null(model->rulings->cars[car_of(model, 1)].disqualified);
    model_free(model);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(empty_numbers_keep_their_minute),
        cmocka_unit_test(a_sequence_leaves_no_gaps),
        cmocka_unit_test(a_sequence_counts_no_car_retired_before_that_day),
        cmocka_unit_test(a_car_that_never_started_leaves_no_gap_on_the_first_day),
        cmocka_unit_test(a_retirement_that_was_revoked_is_none),
        cmocka_unit_test(the_starts_file_comes_before_the_computed_time),
        cmocka_unit_test(allowances_at_one_point_add_up),
        cmocka_unit_test(penalties_add_up_and_may_be_negative),
        cmocka_unit_test(of_two_rulings_the_earliest_then_the_smallest_id_holds),
        cmocka_unit_test(closing_goes_by_point_item_and_day),
        cmocka_unit_test(retirements_know_their_place),
        cmocka_unit_test(cancelling_is_for_a_point_or_an_item),
        cmocka_unit_test(a_disqualification_is_kept_by_the_car),
    };
    RUN_BEHAVIOURS(tests);
}
