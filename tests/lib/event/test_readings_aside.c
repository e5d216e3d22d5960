/* SPDX-License-Identifier: MIT */
/* Readings of a desk that stand aside: what is kept, what is not, and what counts. */
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "event/export.h"
#include "event/readings.h"
#include "event_text.h"
#include "facts.h"
#include "testing.h"

#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}, "                      \
    "{'day': 1, 'id': 'PC1', 'kind': 'passage-control'}, "                                         \
    "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'maximum': 180, 'faults': {'cone': 5}}"

struct fixture {
    struct model *model;
    struct readings *log;
    struct textbuf reason;
};

static int set_up(void **state) {
    struct fixture *f = calloc(1, sizeof *f);
    assert_non_null(f);
    struct event_text texts = {.rules = RULES(FIVA, "{}", ROUTE)};
    f->model = event_text_good(&texts);
    f->log = f->model->readings;
    *state = f;
    return 0;
}

static int tear_down(void **state) {
    struct fixture *f = *state;
    textbuf_clear(&f->reason);
    model_free(f->model);
    free(f);
    return 0;
}

static const struct reading *send(struct fixture *f, const char *fields, const char *flags) {
    if (reading_put_from_desk(f->log, fields, flags, &f->reason) != FACT_ADDED)
        fail_msg("%s: %s", fields, textbuf_text(&f->reason));
    return readings_at(f->log, readings_count(f->log) - 1);
}

static void refuse(struct fixture *f, const char *fields, const char *reason) {
    assert_int_equal(reading_put_from_desk(f->log, fields, NULL, &f->reason), FACT_REFUSED);
    assert_string_equal(textbuf_text(&f->reason), reason);
}

static const char *counted(struct fixture *f, int number, const char *point) {
    const struct reading *r =
        readings_counted(readings_view(f->log), entries_find(f->model->entries, number),
                         strmap_get(&f->model->rules->point_by_id, point), NULL);
    return r == NULL ? "" : r->id;
}

static void each_stands_aside_for_its_own_reason(void **state) {
    struct fixture *f = *state;
    assert_int_equal(send(f, "point=TC1,car=1,time=08:46", NULL)->aside, ASIDE_NOT);
    assert_int_equal(send(f, "point=TC1,car=417,time=08:46", NULL)->aside, ASIDE_UNKNOWN_CAR);
    assert_int_equal(send(f, "point=TC1,time=08:46", NULL)->aside, ASIDE_NO_CAR);
    assert_int_equal(send(f, "point=TC1,car=2,time=08:46", "typed rehearsal")->aside,
                     ASIDE_REHEARSAL);
    assert_int_equal(send(f, "point=TC1,car=2,time=08:47", "no-rehearsal rehearsals")->aside,
                     ASIDE_NOT);
    for (int i = 1; i < 4; i++)
        assert_int_equal(readings_at(f->log, i)->car, -1);
    assert_string_equal(counted(f, 2, "TC1"), readings_at(f->log, 4)->id);
}

static void they_are_found_from_the_latest_on(void **state) {
    struct fixture *f = *state;
    (void)send(f, "point=TC1,car=417,time=08:46,id=a", NULL);
    (void)send(f, "point=TC1,car=1,time=08:46,id=b", NULL);
    const struct readings_view then = readings_view(f->log);
    (void)send(f, "point=TC1,time=08:47,id=c", NULL);
    const struct readings_view now = readings_view(f->log);
    assert_int_equal(readings_latest_aside(then), 0);
    assert_int_equal(readings_latest_aside(now), 2);
    assert_int_equal(readings_before(now, 2), 0);
    assert_int_equal(readings_before(now, 0), -1);
}

static void what_no_desk_can_mean_is_refused_from_a_desk_too(void **state) {
    struct fixture *f = *state;
    refuse(f, "point=TC1,car=x,time=09:00", "car “x” is not in the entry list");
    refuse(f, "point=TC1,car=0,time=09:00", "car “0” is not in the entry list");
    refuse(f, "point=TC9,car=417,time=09:00", "point “TC9” is not on the route");
    refuse(f, "point=TC1,car=417,elapsed=9", "a time control takes a time of day");
    refuse(f, "point=PC1", "it names neither a car nor a time");
    refuse(f, "point=S1/finish,car=417,elapsed=9,faults=cone",
           "faults “cone” must be written like cone=2;line=1");
    assert_int_equal(readings_count(f->log), 0);
}

static void a_number_is_given_by_a_correction(void **state) {
    struct fixture *f = *state;
    (void)send(f, "point=TC1,time=08:46,id=blank", NULL);
    (void)send(f, "point=TC1,car=1,time=08:46,id=given,replaces=blank,reason=number added", NULL);
    assert_string_equal(counted(f, 1, "TC1"), "given");
    assert_true(reading_is_replaced(readings_view(f->log), readings_at(f->log, 0)));
}

static void a_correction_may_come_before_the_time_without_a_number(void **state) {
    struct fixture *f = *state;
    (void)send(f, "point=TC1,car=1,time=08:46,id=given,replaces=blank,reason=number added", NULL);
    (void)send(f, "point=TC1,time=08:46,id=blank", NULL);
    assert_true(reading_is_replaced(readings_view(f->log), readings_at(f->log, 1)));
}

static void one_is_withdrawn_with_or_without_its_number(void **state) {
    struct fixture *f = *state;
    (void)send(f, "point=TC1,time=08:46,id=blank", NULL);
    (void)send(f, "point=TC1,id=v,replaces=blank,void=yes,reason=nobody", NULL);
    (void)send(f, "point=TC1,car=1,time=08:46,id=trial", "rehearsal");
    (void)send(f, "point=TC1,car=1,id=w,replaces=trial,void=yes,reason=rehearsal", NULL);
    assert_true(reading_is_replaced(readings_view(f->log), readings_at(f->log, 0)));
    assert_true(reading_is_replaced(readings_view(f->log), readings_at(f->log, 2)));
    assert_string_equal(counted(f, 1, "TC1"), "");
}

static void a_fault_that_its_test_does_not_name_costs_nothing(void **state) {
    struct fixture *f = *state;
    const struct reading *r =
        send(f, "point=S1/finish,car=1,elapsed=83.4,faults=flag=2;cone=1,id=a", NULL);
    assert_true(r->other_faults);
    assert_int_equal(r->aside, ASIDE_NOT);
    assert_int_equal(r->fault_count, 1);
    assert_int_equal(r->faults[0].count, 1);
    assert_string_equal(r->text.field[READING_FAULTS], "flag=2;cone=1");
    assert_string_equal(counted(f, 1, "S1/finish"), "a");
    assert_false(send(f, "point=S1/finish,car=2,elapsed=83.4,faults=cone=1", NULL)->other_faults);
}

static void the_same_one_twice_counts_once(void **state) {
    struct fixture *f = *state;
    (void)send(f, "point=TC1,time=08:46,id=blank", NULL);
    assert_int_equal(reading_put_from_desk(f->log, "point=TC1,time=08:46,id=blank", NULL, NULL),
                     FACT_DUPLICATE);
    refuse(f, "point=TC1,time=08:47,id=blank", "id “blank” is there already with other content");
}

static void they_are_exported_to_a_file_of_their_own_and_read_from_it_alone(void **state) {
    struct fixture *f = *state;
    struct textbuf out = {0};
    struct problems problems = {0};
    static const char file[] = "point,car,time,elapsed,faults,id,at,by,replaces,void,reason,desk,"
                               "flags\n"
                               "TC1,,08:46,,,b,,,,,,0a1b2c3d,\n"
                               "TC1,1,08:46,,,r,,,,,,0a1b2c3d,rehearsal\n"
                               "TC1,417,08:46,,,u,,,,,,0a1b2c3d,\n";
    (void)send(f, "point=TC1,car=417,time=08:46,id=u", NULL);
    (void)send(f, "point=TC1,time=08:46,id=b", NULL);
    (void)send(f, "point=TC1,car=1,time=08:46,id=r", "rehearsal");
    (void)send(f, "point=TC1,car=1,time=08:46,id=k", NULL);
    assert_int_equal(export_unassigned(f->log, &out), ERR_OK);
    assert_string_equal(textbuf_text(&out), file);
    textbuf_reset(&out);
    assert_int_equal(export_readings(f->log, &out), ERR_OK);
    assert_string_equal(textbuf_text(&out),
                        "point,car,time,elapsed,faults,id,at,by,replaces,void,reason,desk,flags\n"
                        "TC1,1,08:46,,,k,,,,,,0a1b2c3d,\n");
    struct event_text texts = {.rules = RULES(FIVA, "{}", ROUTE)};
    struct model *other = event_text_good(&texts);
    assert_int_equal(readings_read(other->readings, "readings.csv", file, strlen(file), &problems),
                     ERR_OK);
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], 2); /* but the car that is known */
    problems_clear(&problems);
    assert_int_equal(
        readings_read_unassigned(other->readings, "unassigned.csv", file, strlen(file), &problems),
        ERR_OK);
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], 0);
    assert_int_equal(readings_count(other->readings), 3);
    model_free(other);
    problems_clear(&problems);
    textbuf_clear(&out);
}

static void a_row_of_the_file_that_names_no_desk_is_read_as_any_other(void **state) {
    struct fixture *f = *state;
    struct problems problems = {0};
    static const char file[] = "point,car,time,desk\nTC1,417,08:46,\nTC1,417,08:46,0a1b2c3d\n";
    assert_int_equal(
        readings_read_unassigned(f->log, "unassigned.csv", file, strlen(file), &problems), ERR_OK);
    char *said = problems_text(&problems);
    assert_non_null(strstr(said, "unassigned.csv:2: car “417” is not in the entry list"));
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], 1);
    assert_int_equal(readings_count(f->log), 1);
    free(said);
    problems_clear(&problems);
}

static void where_there_are_none_there_is_no_file(void **state) {
    struct fixture *f = *state;
    struct textbuf out = {0};
    (void)send(f, "point=TC1,car=1,time=08:46", NULL);
    assert_int_equal(export_unassigned(f->log, &out), ERR_OK);
    assert_int_equal(out.len, 0);
    textbuf_clear(&out);
}

#define IN_FIXTURE(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        IN_FIXTURE(each_stands_aside_for_its_own_reason),
        IN_FIXTURE(they_are_found_from_the_latest_on),
        IN_FIXTURE(what_no_desk_can_mean_is_refused_from_a_desk_too),
        IN_FIXTURE(a_number_is_given_by_a_correction),
        IN_FIXTURE(a_correction_may_come_before_the_time_without_a_number),
        IN_FIXTURE(one_is_withdrawn_with_or_without_its_number),
        IN_FIXTURE(a_fault_that_its_test_does_not_name_costs_nothing),
        IN_FIXTURE(the_same_one_twice_counts_once),
        IN_FIXTURE(they_are_exported_to_a_file_of_their_own_and_read_from_it_alone),
        IN_FIXTURE(a_row_of_the_file_that_names_no_desk_is_read_as_any_other),
        IN_FIXTURE(where_there_are_none_there_is_no_file),
    };
    RUN_BEHAVIOURS(tests);
}
