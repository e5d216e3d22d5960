/* SPDX-License-Identifier: MIT */
#include "scoring/view.h"

#include <string.h>

#include "base/err.h"
#include "event_text.h"
#include "testing.h"

#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}, "                      \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 48}], "          \
    "'checks': [{'at': 5.37}, {'at': 9.02}]}, "                                                    \
    "{'day': 1, 'id': 'R2', 'kind': 'regularity', 'reveal': 'at-once', 'speeds': [{'from': 0, "    \
    "'speed': 48}], 'checks': [{'at': 5.37}]}, "                                                   \
    "{'day': 1, 'id': 'PC1', 'kind': 'passage-control', 'reveal': 'closed'}, "                     \
    "{'day': 1, 'id': 'PC2', 'kind': 'passage-control'}, "                                         \
    "{'day': 2, 'id': 'TC2', 'kind': 'time-control', 'target': '00:45:00'}, "                      \
    "{'day': 2, 'id': 'R3', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 48}], "          \
    "'checks': [{'at': 5.37}]}"

/* Looks at the event with these decisions (rows of kind,car,point,value,reason). */
struct fixture {
    struct model *model;
    struct view *view;
};

static void look(struct fixture *f, const char *decisions, struct view_request request) {
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE),
                               .decisions = decisions};
    f->model = event_text_good(&texts);
    assert_int_equal(view_new(&f->model->event, request, &f->view), ERR_OK);
}

static void done(struct fixture *f) {
    view_free(f->view);
    model_free(f->model);
}

/* One letter an item, in route order: x where it is visible. */
static void check_visible(const char *decisions, struct view_request request,
                          const char *expected) {
    struct fixture f;
    look(&f, decisions, request);
    assert_int_equal(f.model->rules->item_count, strlen(expected));
    for (int i = 0; i < f.model->rules->item_count; i++) {
        if (f.view->visible[i] != (expected[i] == 'x'))
            fail_msg("%s is %s", f.model->rules->items[i].id,
                     f.view->visible[i] ? "visible" : "hidden");
    }
    done(&f);
}

#define HEAD "kind,car,point,value,reason\n"
static const struct view_request the_end = {false, false, -1};
static const struct view_request live = {true, false, -1};
static const struct view_request live_public = {true, true, -1};

BEHAVIOUR(an_organiser_sees_everything) {
    check_visible(NULL, live, "xxxxxxx");
    check_visible(NULL, the_end, "xxxxxxx");
}

BEHAVIOUR(the_public_sees_no_item_that_is_not_revealed) {
    check_visible(NULL, live_public, "x.x.xx.");
}

BEHAVIOUR(an_item_is_revealed_once_its_last_scored_point_is_closed) {
    check_visible(HEAD "close,,R1/1,,r\n", live_public, "x.x.xx.");
    check_visible(HEAD "close,,R1/1,,r\nclose,,R1/2,,r\n", live_public, "xxx.xx.");
    check_visible(HEAD "close,,R1,,r\n", live_public, "xxx.xx.");
    check_visible(HEAD "close,,PC1,,r\n", live_public, "x.xxxx.");
    check_visible(HEAD "close,,day:1,,r\n", live_public, "xxxxxx.");
    /* the start alone is no scored point, and a cancelled item that is open stays hidden */
    check_visible(HEAD "close,,R1/start,,r\n", live_public, "x.x.xx.");
    check_visible(HEAD "cancel,,R1,,r\n", live_public, "x.x.xx.");
}

BEHAVIOUR(nothing_is_hidden_at_the_end) {
    struct view_request request = {false, true, -1};
    check_visible(NULL, request, "xxxxxxx");
}

BEHAVIOUR(after_leaves_out_what_comes_behind) {
    struct view_request request = {false, false, 2};
    check_visible(NULL, request, "xxx....");
    request = (struct view_request){true, true, 2};
    check_visible(NULL, request, "x.x....");
}

BEHAVIOUR(points_are_open_while_live_and_not_closed) {
    struct fixture f;
    look(&f, HEAD "close,,R1/1,,r\n", live);
    for (int p = 0; p < f.model->rules->point_count; p++)
        assert_int_equal(f.view->open[p], strcmp(f.model->rules->points[p].id, "R1/1") != 0);
    done(&f);
    look(&f, NULL, the_end);
    for (int p = 0; p < f.model->rules->point_count; p++)
        assert_false(f.view->open[p]);
    done(&f);
}

BEHAVIOUR(the_status_is_provisional_once_every_scored_point_is_closed) {
    static const struct {
        const char *decisions;
        struct view_request request;
        const char *status;
    } rows[] = {
        {NULL, {true, false, -1}, "live"},
        {NULL, {false, false, -1}, "provisional"},
        {HEAD "close,,day:1,,r\n", {true, false, -1}, "live"},
        {HEAD "close,,day:1,,r\nclose,,day:2,,r\n", {true, false, -1}, "provisional"},
        {HEAD "close,,day:1,,r\nclose,,TC2,,r\nclose,,R3/1,,r\n", {true, false, -1}, "provisional"},
        {HEAD "close,,day:1,,r\n", {true, false, 1}, "live"},
        /* what the public cannot know of does not keep its event live */
        {HEAD "close,,day:1,,r\nclose,,TC2,,r\n", {true, true, -1}, "provisional"},
        {HEAD "close,,day:1,,r\nclose,,TC2,,r\n", {true, false, -1}, "live"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct fixture f;
        look(&f, rows[i].decisions, rows[i].request);
        assert_string_equal(view_status(f.view), rows[i].status);
        done(&f);
    }
}

/* Ids of a car's last control and of the last that is not cancelled, "-" where there is none. */
static void check_controls(const char *decisions, struct view_request request, const char *last,
                           const char *standing) {
    struct fixture f;
    look(&f, decisions, request);
    const char *const expected[] = {last, standing};
    for (int n = 0; n < 2; n++) {
        int item = view_last_control(f.view, &f.model->event, 0, n == 1);
        assert_string_equal(item < 0 ? "-" : f.model->rules->items[item].id, expected[n]);
    }
    done(&f);
}

BEHAVIOUR(the_last_control_is_known_with_and_without_cancelled_ones) {
    struct view_request after = {false, false, 0};
    check_controls(NULL, live, "TC2", "TC2");
    check_controls(HEAD "cancel,,TC2,,r\n", live, "TC2", "TC1");
    check_controls(HEAD "cancel,,TC2,,r\ncancel,,TC1,,r\n", live, "TC2", "-");
    /* of the event, whatever is looked at */
    check_controls(NULL, after, "TC2", "TC2");
}

BEHAVIOUR(days_behind_the_point_are_left_out) {
    struct fixture f;
    struct view_request after = {false, false, 4};
    look(&f, NULL, after);
    assert_int_equal(f.view->last_day, 0);
    done(&f);
    look(&f, NULL, the_end);
    assert_int_equal(f.view->last_day, 1);
    done(&f);
}

BEHAVIOUR(an_item_is_found_by_its_own_id_or_that_of_a_point) {
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE)};
    struct model *model = event_text_good(&texts);
    assert_int_equal(view_item_of(model->rules, "R1"), 1);
    assert_int_equal(view_item_of(model->rules, "R1/2"), 1);
    assert_int_equal(view_item_of(model->rules, "R1/start"), 1);
    assert_int_equal(view_item_of(model->rules, "TC2/out"), 5);
    assert_int_equal(view_item_of(model->rules, "R1/3"), -1);
    assert_int_equal(view_item_of(model->rules, ""), -1);
    model_free(model);
}

/* Whether the public sees a reading or a decision of these files; day 2 holds a regularity alone.
 */
static void check_shown(const char *readings, const char *decisions, const char *id, bool shown) {
    struct event_text texts = {
        .rules = RULES_OF_TWO_DAYS(
            FIVA, "{}",
            "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}, "
            "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, "
            "'speed': 48}], 'checks': [{'at': 5.37}]}, {'day': 2, 'id': 'R2', "
            "'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 48}], 'checks': "
            "[{'at': 5.37}]}"),
        .readings = readings,
        .decisions = decisions};
    struct model *model = event_text_good(&texts);
    struct view *view;
    assert_int_equal(view_new(&model->event, live_public, &view), ERR_OK);
    if (readings != NULL)
        assert_int_equal(
            view_shows_reading(view, model,
                               readings_at(model->readings, readings_find(model->readings, id))),
            shown);
    else
        assert_int_equal(
            view_shows_decision(
                view, model, decisions_at(model->decisions, decisions_find(model->decisions, id))),
            shown);
    view_free(view);
    model_free(model);
}

BEHAVIOUR(a_reading_is_shown_where_it_is_or_corrects_one_that_is) {
    static const char readings[] = "point,car,time,id,replaces,reason\n"
                                   "TC1,1,08:46,seen,,\nR1/1,1,09:00,hidden,,\n"
                                   "R1/1,2,09:01,moved-there,to-be-moved,wrong point\n"
                                   "TC1,2,08:47,to-be-moved,,\n"
                                   "TC1,5,08:50,moved-here,hidden-too,wrong point\n"
                                   "R1/1,5,09:02,hidden-too,,\n";
    check_shown(readings, NULL, "seen", true);
    check_shown(readings, NULL, "hidden", false);
    check_shown(readings, NULL, "moved-there", true);
    check_shown(readings, NULL, "moved-here", true);
    check_shown(readings, NULL, "hidden-too", false);
}

BEHAVIOUR(the_end_of_a_day_is_shown_once_something_of_that_day_is) {
    static const char decisions[] = "kind,car,point,value,reason,id\n"
                                    "close,,day:1,,all are in,first\nrevoke,,,first,no,no-1\n"
                                    "close,,day:2,,all are in,second\nrevoke,,,second,no,no-2\n";
    check_shown(NULL, decisions, "first", true);
    check_shown(NULL, decisions, "no-1", true);
    check_shown(NULL, decisions, "second", false);
    check_shown(NULL, decisions, "no-2", false);
    /* what is closed is revealed by it */
    check_shown(NULL, "kind,car,point,value,reason,id\nclose,,day:2,,all are in,second\n", "second",
                true);
}

BEHAVIOUR(a_decision_is_shown_where_its_point_or_test_is) {
    static const char decisions[] = "kind,car,point,value,reason,id\n"
                                    "waive,1,TC1,,held up,control\nrevoke,,,control,no,no-1\n"
                                    "waive,1,R1/1,,held up,check\nrevoke,,,check,no,no-2\n"
                                    "notional,2,R1,5,clock,test\npenalty,1,,5,noise,nowhere\n"
                                    "retire,2,R1/1,,axle,out\n";
    check_shown(NULL, decisions, "control", true);
    check_shown(NULL, decisions, "no-1", true);
    check_shown(NULL, decisions, "check", false);
    check_shown(NULL, decisions, "no-2", false);
    check_shown(NULL, decisions, "test", false);
    check_shown(NULL, decisions, "nowhere", true);
    check_shown(NULL, decisions, "out", true);
    check_shown(NULL,
                "kind,car,point,value,reason,id\nclose,,R1,,all are in,in\n"
                "waive,1,R1/1,,held up,revealed\n",
                "revealed", true);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_organiser_sees_everything),
        cmocka_unit_test(the_public_sees_no_item_that_is_not_revealed),
        cmocka_unit_test(an_item_is_revealed_once_its_last_scored_point_is_closed),
        cmocka_unit_test(nothing_is_hidden_at_the_end),
        cmocka_unit_test(after_leaves_out_what_comes_behind),
        cmocka_unit_test(points_are_open_while_live_and_not_closed),
        cmocka_unit_test(the_status_is_provisional_once_every_scored_point_is_closed),
        cmocka_unit_test(the_last_control_is_known_with_and_without_cancelled_ones),
        cmocka_unit_test(days_behind_the_point_are_left_out),
        cmocka_unit_test(a_reading_is_shown_where_it_is_or_corrects_one_that_is),
        cmocka_unit_test(the_end_of_a_day_is_shown_once_something_of_that_day_is),
        cmocka_unit_test(a_decision_is_shown_where_its_point_or_test_is),
        cmocka_unit_test(an_item_is_found_by_its_own_id_or_that_of_a_point),
    };
    RUN_BEHAVIOURS(tests);
}
