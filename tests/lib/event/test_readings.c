/* SPDX-License-Identifier: MIT */
#include "event/readings.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "event_text.h"
#include "facts.h"
#include "testing.h"

#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}, "                      \
    "{'day': 1, 'id': 'PC1', 'kind': 'passage-control'}, "                                         \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 48}], "          \
    "'checks': [{'at': 5.37}]}, "                                                                  \
    "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': [9]}, "                                 \
    "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'maximum': 180, 'faults': {'cone': 5, "        \
    "'line': 10, 'wrong-route': 'maximum'}}, "                                                     \
    "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 2, 'reference': 'nominated', "          \
    "'faults': {'stop': 20}}"

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

/* Id of the reading that counts for a car at a point, "" where none does; "!" before it where
 * others differ. */
static const char *counted_upto(struct fixture *f, int upto, int number, const char *point) {
    static char text[80];
    bool conflict = false;
    const struct reading *r = readings_counted(
        readings_view_upto(readings_view(f->log), upto), entries_find(f->model->entries, number),
        strmap_get(&f->model->rules->point_by_id, point), &conflict);
    (void)snprintf(text, sizeof text, "%s%s", conflict ? "!" : "", r == NULL ? "" : r->id);
    return text;
}

static const char *counted(struct fixture *f, int number, const char *point) {
    return counted_upto(f, readings_count(f->log), number, point);
}

static void add(struct fixture *f, const char *fields) {
    if (reading_put(f->log, fields, &f->reason) != FACT_ADDED)
        fail_msg("%s: %s", fields, textbuf_text(&f->reason));
}

static void refuse(struct fixture *f, const char *fields, const char *reason) {
    int before = readings_count(f->log);
    assert_int_equal(reading_test(f->log, fields, &f->reason), FACT_REFUSED);
    assert_string_equal(textbuf_text(&f->reason), reason);
    assert_int_equal(reading_put(f->log, fields, &f->reason), FACT_REFUSED);
    assert_string_equal(textbuf_text(&f->reason), reason);
    assert_int_equal(readings_count(f->log), before);
}

static void a_reading_is_kept_with_its_values(void **state) {
    struct fixture *f = *state;
    add(f, "point=S1/finish,car=2,elapsed=83.45,faults=cone=2;line=1,id=a-1,"
           "at=2027-05-20T09:00:00+01:00,by=Desk 3");
    const struct reading *r = readings_at(f->log, readings_find(f->log, "a-1"));
    assert_int_equal(r->elapsed, 83450);
    assert_true(r->time == TIME_NONE);
    assert_int_equal(f->model->entries->list[r->car].number, 2);
    assert_string_equal(f->model->rules->points[r->point].id, "S1/finish");
    assert_int_equal(r->fault_count, 2);
    assert_int_equal(r->faults[0].count, 2);
    assert_int_equal(r->faults[1].count, 1);
    assert_true(r->has_at);
    assert_false(r->is_void);
    assert_string_equal(r->text.field[READING_BY], "Desk 3");
    assert_string_equal(r->text.field[READING_ELAPSED], "83.45");
}

static void each_point_takes_its_own_sort(void **state) {
    struct fixture *f = *state;
    static const struct {
        const char *point;
        bool time;
        bool elapsed;
        bool sighting;
    } rows[] = {
        {"TC1", true, false, false},      {"TC1/out", true, false, false},
        {"PC1", true, true, true},        {"R1/start", true, false, false},
        {"R1/1", true, false, false},     {"T1/start", true, false, false},
        {"T1/1", true, true, false},      {"S1/start", true, false, false},
        {"S1/finish", true, true, false}, {"L1/nominated", false, true, false},
        {"L1/start", true, false, false}, {"L1/1", true, true, false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char fields[128];
        for (int sort = 0; sort < 3; sort++) {
            static const char *const values[] = {"time=09:00", "elapsed=9.5", "by=Desk 1"};
            bool taken = sort == 0 ? rows[i].time : sort == 1 ? rows[i].elapsed : rows[i].sighting;
            (void)snprintf(fields, sizeof fields, "point=%s,car=1,%s", rows[i].point, values[sort]);
            enum fact_result result = reading_test(f->log, fields, &f->reason);
            if (result != (taken ? FACT_ADDED : FACT_REFUSED))
                fail_msg("%s gave %d %s", fields, (int)result, textbuf_text(&f->reason));
        }
    }
}

static void malformed_readings_are_refused_with_the_reason(void **state) {
    struct fixture *f = *state;
    refuse(f, "point=TC9,car=1,time=09:00", "point “TC9” is not on the route");
    refuse(f, "point=TC1,car=4,time=09:00", "car “4” is not in the entry list");
    refuse(f, "point=TC1,car=x,time=09:00", "car “x” is not in the entry list");
    refuse(f, "point=TC1,car=,time=09:00", "car “” is not in the entry list");
    refuse(f, "point=TC1,car=1,time=9:00",
           "time “9:00” is not written as a time of day, such as 10:42:59; write 09:00");
    refuse(f, "point=TC1,car=1,time=48:00",
           "time “48:00” is not written as a time of day, such as 10:42:59");
    refuse(f, "point=TC1,car=1,time=09:00:00.1234",
           "time “09:00:00.1234” has more than three decimals");
    refuse(f, "point=T1/1,car=1,elapsed=9.1234", "elapsed “9.1234” has more than three decimals");
    refuse(f, "point=T1/1,car=1,time=09:00,elapsed=9", "it has both a time and an elapsed");
    refuse(f, "point=TC1,car=1,time=09:00,id=a b",
           "id “a b” must be 1 to 64 of A-Z a-z 0-9 . _ : -");
    refuse(
        f, "point=TC1,car=1,time=09:00,at=2027-05-20T09:00:00",
        "at “2027-05-20T09:00:00” is no RFC 3339 time with offset, such as 2027-05-20T10:42:59+02:00");
    refuse(f, "point=S1/finish,car=1,elapsed=9,faults=pole=1", "S1 names no fault “pole”");
    refuse(f, "point=S1/finish,car=1,elapsed=9,faults=cone=1;cone=2",
           "faults “cone=1;cone=2” name one fault twice");
    refuse(f, "point=TC1,car=1,time=09:00,faults=cone=1", "TC1 names no fault “cone”");
}

static void fault_lists_must_be_well_formed(void **state) {
    struct fixture *f = *state;
    static const char *const bad[] = {"cone",      "cone=",           "=1",
                                      "cone=1;",   "cone=-1",         "cone=x",
                                      "cone=1.5",  ";cone=1",         "cone=1;;line=1",
                                      "cone=1000", "cone=99999999999"};
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        char fields[128];
        (void)snprintf(fields, sizeof fields, "point=S1/finish,car=1,elapsed=9,faults=%s", bad[i]);
        if (reading_test(f->log, fields, &f->reason) != FACT_REFUSED)
            fail_msg("%s is taken", bad[i]);
        assert_true(f->reason.len > 0);
    }
    add(f, "point=S1/finish,car=1,elapsed=9,faults=cone=0;line=999,id=f");
    assert_int_equal(readings_at(f->log, 0)->faults[1].count, 999);
}

static void ids_have_a_length_and_an_alphabet(void **state) {
    struct fixture *f = *state;
    char id[80];
    char fields[160];
    memset(id, 'a', sizeof id);
    id[64] = '\0';
    (void)snprintf(fields, sizeof fields, "point=TC1,car=1,time=09:00,id=%s", id);
    assert_int_equal(reading_test(f->log, fields, &f->reason), FACT_ADDED);
    id[64] = 'a';
    id[65] = '\0';
    (void)snprintf(fields, sizeof fields, "point=TC1,car=1,time=09:00,id=%s", id);
    assert_int_equal(reading_test(f->log, fields, &f->reason), FACT_REFUSED);
    assert_int_equal(reading_test(f->log, "point=TC1,car=1,time=09:00,id=aZ09._:-", NULL),
                     FACT_ADDED);
    static const char *const bad[] = {"a/b", "a b", "é", "a;b", "a\tb", "a|b"};
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        (void)snprintf(fields, sizeof fields, "point=TC1,car=1,time=09:00,id=%s", bad[i]);
        assert_int_equal(reading_test(f->log, fields, &f->reason), FACT_REFUSED);
    }
}

static void a_derived_id_is_the_hash_of_the_fields_as_written(void **state) {
    struct fixture *f = *state;
    /* printf 'TC1|1|09:00:00|||||||' | sha256sum */
    add(f, "point=TC1,car=1,time=09:00:00");
    assert_string_equal(readings_at(f->log, 0)->id, "c7acda786297d4a8fa9d6825a85df9b8");
    /* written otherwise it is another reading, though it says the same */
    add(f, "point=TC1,car=01,time=09:00:00");
    add(f, "point=TC1,car=1,time=09:00");
    assert_int_equal(readings_count(f->log), 3);
}

static void the_same_reading_twice_counts_once(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00:00");
    assert_int_equal(reading_put(f->log, "point=TC1,car=1,time=09:00:00", &f->reason),
                     FACT_DUPLICATE);
    add(f, "point=TC1,car=1,time=09:00:00,id=x");
    assert_int_equal(reading_put(f->log, "point=TC1,car=1,time=09:00:00,id=x", &f->reason),
                     FACT_DUPLICATE);
    assert_int_equal(f->reason.len, 0);
    assert_int_equal(readings_count(f->log), 2);
}

static void one_id_with_other_content_is_refused(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00:00,id=x");
    refuse(f, "point=TC1,car=1,time=09:00:01,id=x", "id “x” is there already with other content");
    refuse(f, "point=TC1,car=1,time=09:00:00,id=x,by=Desk 2",
           "id “x” is there already with other content");
    assert_string_equal(counted(f, 1, "TC1"), "x");
}

static void the_earliest_record_counts_then_the_smallest_id(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:03,id=m");
    assert_string_equal(counted(f, 1, "TC1"), "m");
    add(f, "point=TC1,car=1,time=09:03,id=c");
    assert_string_equal(counted(f, 1, "TC1"), "c");
    add(f, "point=TC1,car=1,time=09:03,id=z,at=2027-05-20T09:10:00+01:00");
    assert_string_equal(counted(f, 1, "TC1"), "z");
    add(f, "point=TC1,car=1,time=09:03,id=y,at=2027-05-20T08:09:59Z");
    assert_string_equal(counted(f, 1, "TC1"), "y");
    add(f, "point=TC1,car=1,time=09:03,id=b,at=2027-05-20T08:09:59.000Z");
    assert_string_equal(counted(f, 1, "TC1"), "b");
    /* ids are compared by bytes: capitals come first */
    add(f, "point=TC1,car=1,time=09:03,id=Z,at=2027-05-20T08:09:59.000Z");
    assert_string_equal(counted(f, 1, "TC1"), "Z");
}

static void readings_that_differ_are_in_conflict(void **state) {
    struct fixture *f = *state;
    add(f, "point=S1/finish,car=1,elapsed=83.4,id=a");
    add(f, "point=S1/finish,car=1,elapsed=83.40,id=b");
    assert_string_equal(counted(f, 1, "S1/finish"), "a");
    add(f, "point=S1/finish,car=1,elapsed=83.4,faults=cone=0,id=c");
    assert_string_equal(counted(f, 1, "S1/finish"), "a");
    add(f, "point=S1/finish,car=1,elapsed=83.4,faults=cone=1,id=d");
    assert_string_equal(counted(f, 1, "S1/finish"), "!a");
    add(f, "point=S1/finish,car=2,elapsed=83.4,id=e");
    add(f, "point=S1/finish,car=2,elapsed=83.5,id=f");
    assert_string_equal(counted(f, 2, "S1/finish"), "!e");
    add(f, "point=S1/finish,car=5,elapsed=83.4,id=g");
    add(f, "point=S1/finish,car=5,time=09:00:00,id=h");
    assert_string_equal(counted(f, 5, "S1/finish"), "!g");
}

static void a_sighting_and_a_time_differ(void **state) {
    struct fixture *f = *state;
    add(f, "point=PC1,car=1,id=a");
    add(f, "point=PC1,car=1,id=b,by=Desk 2");
    assert_string_equal(counted(f, 1, "PC1"), "a");
    add(f, "point=PC1,car=1,time=09:00,id=c");
    assert_string_equal(counted(f, 1, "PC1"), "!a");
}

static void a_correction_takes_the_place_of_what_it_names(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a");
    add(f, "point=TC1,car=1,time=09:01,id=b,replaces=a,reason=misread");
    assert_string_equal(counted(f, 1, "TC1"), "b");
    assert_true(reading_is_replaced(readings_view(f->log), readings_at(f->log, 0)));
    assert_false(reading_is_replaced(readings_view(f->log), readings_at(f->log, 1)));
}

static void a_correction_may_come_before_what_it_names(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:01,id=b,replaces=a,reason=misread");
    add(f, "point=TC1,car=1,time=09:00,id=a");
    assert_string_equal(counted(f, 1, "TC1"), "b");
}

static void a_correction_may_move_a_reading_to_another_car_or_point(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a");
    add(f, "point=TC1,car=2,time=09:00,id=b,replaces=a,reason=wrong number");
    assert_string_equal(counted(f, 1, "TC1"), "");
    assert_string_equal(counted(f, 2, "TC1"), "b");
    add(f, "point=PC1,car=2,time=09:00,id=c,replaces=b,reason=wrong point");
    assert_string_equal(counted(f, 2, "TC1"), "");
    assert_string_equal(counted(f, 2, "PC1"), "c");
}

static void a_void_withdraws_and_is_no_reading_itself(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a");
    add(f, "point=TC1,car=1,id=v,replaces=a,void=yes,reason=practice run");
    assert_string_equal(counted(f, 1, "TC1"), "");
    /* a void needs no value that its point would take */
    add(f, "point=TC1,car=2,time=09:00,id=b,void=no");
    assert_string_equal(counted(f, 2, "TC1"), "b");
}

static void withdrawing_a_correction_does_not_bring_the_first_back(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a");
    add(f, "point=TC1,car=1,time=09:01,id=b,replaces=a,reason=misread");
    add(f, "point=TC1,car=1,id=v,replaces=b,void=yes,reason=wrong sheet");
    assert_string_equal(counted(f, 1, "TC1"), "");
    add(f, "point=TC1,car=1,time=09:02,id=c");
    assert_string_equal(counted(f, 1, "TC1"), "c");
}

static void withdrawing_a_withdrawal_brings_nothing_back(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a");
    add(f, "point=TC1,car=1,id=v,replaces=a,void=yes,reason=wrong");
    add(f, "point=TC1,car=1,id=w,replaces=v,void=yes,reason=wrong too");
    assert_string_equal(counted(f, 1, "TC1"), "");
}

static void corrections_need_a_reason_and_a_name(void **state) {
    struct fixture *f = *state;
    refuse(f, "point=TC1,car=1,time=09:00,replaces=a", "correcting a reading needs a reason");
    refuse(f, "point=TC1,car=1,void=yes,replaces=a", "withdrawing a reading needs a reason");
    refuse(f, "point=TC1,car=1,void=yes,reason=x", "void needs the id of a reading in “replaces”");
    refuse(f, "point=TC1,car=1,time=09:00,void=maybe", "void “maybe” must be yes or no");
    refuse(f, "point=TC1,car=1,time=09:00,replaces=a b,reason=x",
           "replaces “a b” is no id of a reading");
    refuse(f, "point=TC1,car=1,time=09:00,id=a,replaces=a,reason=x",
           "a reading cannot replace itself");
}

static void a_refused_correction_has_no_effect(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a");
    refuse(f, "point=TC1,car=1,replaces=a,reason=x,id=b", "a time control takes a time of day");
    refuse(f, "point=TC9,car=1,replaces=a,void=yes,reason=x,id=c",
           "point “TC9” is not on the route");
    assert_string_equal(counted(f, 1, "TC1"), "a");
}

static void two_that_replace_each_other_both_fall(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a,replaces=b,reason=x");
    add(f, "point=TC1,car=1,time=09:01,id=b,replaces=a,reason=x");
    assert_string_equal(counted(f, 1, "TC1"), "");
}

static void trying_a_reading_changes_nothing(void **state) {
    struct fixture *f = *state;
    add(f, "point=TC1,car=1,time=09:00,id=a");
    assert_int_equal(
        reading_test(f->log, "point=TC1,car=1,time=09:01,id=b,replaces=a,reason=x", NULL),
        FACT_ADDED);
    assert_int_equal(reading_test(f->log, "point=TC1,car=1,time=09:00,id=a", NULL), FACT_DUPLICATE);
    assert_int_equal(readings_count(f->log), 1);
    assert_int_equal(readings_find(f->log, "b"), -1);
    assert_string_equal(counted(f, 1, "TC1"), "a");
}

static void an_earlier_state_of_the_log_stays_as_it_was(void **state) {
    struct fixture *f = *state;
    static const char *const rows[] = {
        "point=TC1,car=1,time=09:05,id=m",
        "point=TC1,car=1,time=09:00,id=a",
        "point=TC1,car=1,time=09:01,id=b,replaces=a,reason=x",
        "point=TC1,car=1,id=v,replaces=b,void=yes,reason=x",
    };
    static const char *const then[] = {"", "m", "!a", "!b", "m"};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        add(f, rows[i]);
        for (size_t upto = 0; upto <= i + 1; upto++)
            assert_string_equal(counted_upto(f, (int)upto, 1, "TC1"), then[upto]);
    }
}

static void many_readings_stay_where_they_are(void **state) {
    struct fixture *f = *state;
    enum { MANY = 5000 };
    const struct reading *first = NULL;
    for (int i = 0; i < MANY; i++) {
        char fields[128];
        (void)snprintf(fields, sizeof fields, "point=TC1,car=%d,time=09:00,id=r%d",
                       i % 2 == 0 ? 1 : 5, i);
        add(f, fields);
        if (i == 0)
            first = readings_at(f->log, 0);
    }
    assert_int_equal(readings_count(f->log), MANY);
    assert_ptr_equal(readings_at(f->log, 0), first);
    assert_string_equal(first->id, "r0");
    assert_int_equal(readings_find(f->log, "r4999"), MANY - 1);
    int found = 0;
    int point = strmap_get(&f->model->rules->point_by_id, "TC1");
    const struct readings_view view = readings_view(f->log);
    for (int i = readings_latest(view, 0, point); i >= 0; i = readings_before(view, i))
        found++;
    assert_int_equal(found, MANY / 2);
    assert_string_equal(counted(f, 1, "TC1"), "r0");
}

static void a_file_is_taken_but_for_its_refused_rows(void **state) {
    struct fixture *f = *state;
    static const char text[] = "car;point;time;id;weather\n"
                               "1;TC1;09:00;a;wet\n"
                               "1;TC1;09:00;a;dry\n"
                               "\n"
                               "9;TC1;09:00;b;dry\n"
                               "1;TC1;09:01;a;dry\n"
                               "1;TC1\n"
                               "2;TC1;09:02;c;dry\n";
    struct problems problems = {0};
    assert_int_equal(readings_read(f->log, "readings.csv", text, strlen(text), &problems), ERR_OK);
    char *said = problems_text(&problems);
    assert_string_equal(
        said, "readings.csv:1: column “weather” is not known; it is kept, and nothing else\n"
              "readings.csv:5: car “9” is not in the entry list\n"
              "readings.csv:6: id “a” is there already with other content\n"
              "readings.csv:7: fewer fields than the header has\n");
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], 3);
    assert_int_equal(problems.by_level[PROBLEM_ERROR], 0);
    assert_int_equal(readings_count(f->log), 2);
    assert_string_equal(readings_at(f->log, 0)->text.extras->value, "wet");
    free(said);
    problems_clear(&problems);
}

static void a_file_needs_its_columns(void **state) {
    struct fixture *f = *state;
    struct problems problems = {0};
    assert_int_equal(readings_read(f->log, "readings.csv", "point,time\n", 11, &problems),
                     ERR_INPUT);
    assert_string_equal(problems.list[0].text, "column “car” is missing");
    problems_clear(&problems);
}

#define IN_FIXTURE(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void) {
    const struct CMUnitTest tests[] = {
        IN_FIXTURE(a_reading_is_kept_with_its_values),
        IN_FIXTURE(each_point_takes_its_own_sort),
        IN_FIXTURE(malformed_readings_are_refused_with_the_reason),
        IN_FIXTURE(fault_lists_must_be_well_formed),
        IN_FIXTURE(ids_have_a_length_and_an_alphabet),
        IN_FIXTURE(a_derived_id_is_the_hash_of_the_fields_as_written),
        IN_FIXTURE(the_same_reading_twice_counts_once),
        IN_FIXTURE(one_id_with_other_content_is_refused),
        IN_FIXTURE(the_earliest_record_counts_then_the_smallest_id),
        IN_FIXTURE(readings_that_differ_are_in_conflict),
        IN_FIXTURE(a_sighting_and_a_time_differ),
        IN_FIXTURE(a_correction_takes_the_place_of_what_it_names),
        IN_FIXTURE(a_correction_may_come_before_what_it_names),
        IN_FIXTURE(a_correction_may_move_a_reading_to_another_car_or_point),
        IN_FIXTURE(a_void_withdraws_and_is_no_reading_itself),
        IN_FIXTURE(withdrawing_a_correction_does_not_bring_the_first_back),
        IN_FIXTURE(withdrawing_a_withdrawal_brings_nothing_back),
        IN_FIXTURE(corrections_need_a_reason_and_a_name),
        IN_FIXTURE(a_refused_correction_has_no_effect),
        IN_FIXTURE(two_that_replace_each_other_both_fall),
        IN_FIXTURE(trying_a_reading_changes_nothing),
        IN_FIXTURE(an_earlier_state_of_the_log_stays_as_it_was),
        IN_FIXTURE(many_readings_stay_where_they_are),
        IN_FIXTURE(a_file_is_taken_but_for_its_refused_rows),
        IN_FIXTURE(a_file_needs_its_columns),
    };
    RUN_BEHAVIOURS(tests);
}
