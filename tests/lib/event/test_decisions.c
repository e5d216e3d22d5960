/* SPDX-License-Identifier: MIT */
#include "event/decisions.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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
    "{'day': 1, 'id': 'S1', 'kind': 'special-test'}, "                                             \
    "{'day': 2, 'id': 'L1', 'kind': 'consistency', 'laps': 3}, "                                   \
    "{'day': 2, 'id': 'L2', 'kind': 'consistency', 'laps': 1, 'reference': 'nominated'}"

struct fixture {
    struct model *model;
    struct decisions *log;
    struct textbuf reason;
};

static int set_up(void **state) {
    struct fixture *f = calloc(1, sizeof *f);
    assert_non_null(f);
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE)};
    f->model = event_text_good(&texts);
    f->log = f->model->decisions;
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

static const struct decision *add(struct fixture *f, const char *fields) {
    int before = decisions_count(f->log);
    if (decision_put(f->log, fields, &f->reason) != FACT_ADDED)
        fail_msg("%s: %s", fields, textbuf_text(&f->reason));
    return decisions_at(f->log, before);
}

static void refuse(struct fixture *f, const char *fields, const char *reason) {
    int before = decisions_count(f->log);
    assert_int_equal(decision_put(f->log, fields, &f->reason), FACT_REFUSED);
    assert_string_equal(textbuf_text(&f->reason), reason);
    assert_int_equal(decisions_count(f->log), before);
}

static bool holds(struct fixture *f, const char *id) {
    int index = decisions_find(f->log, id);
    assert_true(index >= 0);
    struct decision_list list;
    assert_int_equal(decisions_list(f->log, &list), ERR_OK);
    bool holds = list.list[index].holds;
    decision_list_clear(&list);
    return holds;
}

static void settle(struct fixture *f, int expected) {
    assert_int_equal(decisions_settle(f->log, "decisions.csv", NULL), expected);
}

static void each_kind_takes_what_the_table_says(void **state) {
    struct fixture *f = *state;
    /* c: a car is needed, p: a point is needed, P: it may be given, v: a value is needed */
    static const struct {
        const char *kind;
        const char *takes;
        const char *value;
    } rows[] = {
        {"allowance", "cpv", "00:05:00"},
        {"penalty", "cPv", "-12.5"},
        {"fails", "cPv", "2"},
        {"waive", "cp", "1"},
        {"notional", "cpv", "30"},
        {"cancel", "p", "1"},
        {"close", "p", "1"},
        {"retire", "cP", "1"},
        {"rejoin", "cv", "2"},
        {"disqualify", "c", "1"},
        {"revoke", "v", "some-id"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        bool car_needed = strchr(rows[i].takes, 'c') != NULL;
        bool value_needed = strchr(rows[i].takes, 'v') != NULL;
        bool point_needed = strchr(rows[i].takes, 'p') != NULL;
        bool point_taken = point_needed || strchr(rows[i].takes, 'P') != NULL;
        for (int given = 0; given < 8; given++) {
            bool car = (given & 1) != 0;
            bool point = (given & 2) != 0;
            bool value = (given & 4) != 0;
            bool good =
                car == car_needed && value == value_needed && (point ? point_taken : !point_needed);
            char fields[160];
            (void)snprintf(fields, sizeof fields, "kind=%s,car=%s,point=%s,value=%s,reason=r",
                           rows[i].kind, car ? "2" : "", point ? "TC1" : "",
                           value ? rows[i].value : "");
            enum fact_result result = decision_test(f->log, fields, &f->reason);
            if (result != (good ? FACT_ADDED : FACT_REFUSED))
                fail_msg("%s gave %d %s", fields, (int)result, textbuf_text(&f->reason));
        }
    }
}

static void values_are_read_by_kind(void **state) {
    struct fixture *f = *state;
    assert_int_equal(add(f, "kind=allowance,car=2,point=TC1,value=00:05:00,reason=r")->value,
                     300000);
    assert_int_equal(add(f, "kind=allowance,car=2,point=R1/1,value=12.5,reason=r")->value, 12500);
    assert_int_equal(add(f, "kind=penalty,car=2,value=-12.5,reason=r")->value, -12500);
    assert_int_equal(add(f, "kind=penalty,car=2,point=R1/start,value=7,reason=r")->target,
                     TARGET_POINT);
    const struct decision *fails = add(f, "kind=fails,car=2,point=R1,value=99,reason=r");
    assert_int_equal(fails->value, 99);
    assert_int_equal(fails->target, TARGET_ITEM);
    assert_int_equal(add(f, "kind=notional,car=2,point=R1,value=30,reason=r")->value, 30000);
    const struct decision *rejoin = add(f, "kind=rejoin,car=2,value=2,reason=r");
    assert_int_equal(rejoin->value, 1); /* days count from 0 inside */
    assert_int_equal(rejoin->target, TARGET_NONE);
}

static void wrong_values_are_refused(void **state) {
    struct fixture *f = *state;
    static const char *const bad[] = {
        "kind=allowance,car=2,point=TC1,value=-5,reason=r",
        "kind=allowance,car=2,point=TC1,value=48:00:00,reason=r",
        "kind=notional,car=2,point=R1,value=-1,reason=r",
        "kind=fails,car=2,value=0,reason=r",
        "kind=fails,car=2,value=100,reason=r",
        "kind=fails,car=2,value=1.5,reason=r",
        "kind=penalty,car=2,point=day:1,value=5,reason=r",
        "kind=notional,car=2,point=R1,value=many,reason=r",
        "kind=rejoin,car=2,value=3,reason=r",
        "kind=rejoin,car=2,value=0,reason=r",
        "kind=rejoin,car=2,value=1.5,reason=r",
        "kind=revoke,value=a b,reason=r",
        "kind=penalty,car=2,value=1e3,reason=r",
    };
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        if (decision_test(f->log, bad[i], &f->reason) != FACT_REFUSED || f->reason.len == 0)
            fail_msg("%s is taken", bad[i]);
    }
    refuse(f, "kind=penalty,car=2,value=1.0001,reason=r",
           "value “1.0001” has more than three decimals");
    refuse(f, "kind=allowance,car=2,point=TC1,value=1.0001,reason=r",
           "value “1.0001” has more than three decimals");
}

static void a_reason_must_be_given(void **state) {
    struct fixture *f = *state;
    refuse(f, "kind=disqualify,car=2,reason=", "the reason is empty");
}

static void unknown_kinds_cars_points_and_ids_are_refused(void **state) {
    struct fixture *f = *state;
    refuse(
        f, "kind=pardon,car=2,reason=r",
        "kind “pardon” is not known; write allowance, penalty, fails, faults, waive, notional, cancel, close, retire, rejoin, disqualify or revoke");
    refuse(f, "kind=disqualify,car=3,reason=r", "car “3” is not in the entry list");
    refuse(f, "kind=waive,car=2,point=TC7,reason=r", "point “TC7” is not on the route");
    refuse(f, "kind=cancel,point=day:1,reason=r", "point “day:1” is not on the route");
    refuse(f, "kind=close,point=day:3,reason=r", "“day:3” is no day of this event");
    refuse(f, "kind=close,point=day:0,reason=r", "“day:0” is no day of this event");
    refuse(f, "kind=close,point=day:,reason=r", "“day:” is no day of this event");
    refuse(f, "kind=disqualify,car=2,reason=r,id=a b",
           "id “a b” must be 1 to 64 of A-Z a-z 0-9 . _ : -");
    refuse(f, "kind=disqualify,car=2,reason=r,at=yesterday",
           "at “yesterday” is no RFC 3339 time with offset, such as 2027-05-20T10:42:59+02:00");
}

static void an_allowance_has_its_places(void **state) {
    struct fixture *f = *state;
    static const struct {
        const char *point;
        bool good;
    } rows[] = {{"TC1", true},        {"R1/1", true},  {"R1/start", true}, {"S1/start", true},
                {"TC1/out", false},   {"PC1", false},  {"R1", false},      {"S1", false},
                {"S1/finish", false}, {"L1/1", false}, {"L1/start", true}, {"L2/nominated", false}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char fields[128];
        (void)snprintf(fields, sizeof fields, "kind=allowance,car=2,point=%s,value=60,reason=r",
                       rows[i].point);
        if ((decision_test(f->log, fields, &f->reason) == FACT_ADDED) != rows[i].good)
            fail_msg("an allowance at %s is otherwise", rows[i].point);
    }
}

static void results_are_given_to_scored_points_or_whole_items(void **state) {
    struct fixture *f = *state;
    static const struct {
        const char *point;
        bool good;
    } rows[] = {{"TC1", true},        {"PC1", true},       {"R1", true},
                {"R1/1", true},       {"S1", true},        {"L1", true},
                {"L1/2", true},       {"R1/start", false}, {"TC1/out", false},
                {"S1/finish", false}, {"S1/start", false}, {"L2/nominated", false},
                {"L1/1", false}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char fields[128];
        (void)snprintf(fields, sizeof fields, "kind=notional,car=2,point=%s,value=60,reason=r",
                       rows[i].point);
        if ((decision_test(f->log, fields, &f->reason) == FACT_ADDED) != rows[i].good)
            fail_msg("a notional result at %s is otherwise", rows[i].point);
    }
}

static void targets_are_told_apart(void **state) {
    struct fixture *f = *state;
    const struct decision *d = add(f, "kind=close,point=day:2,reason=r");
    assert_int_equal(d->target, TARGET_DAY);
    assert_int_equal(d->place, 1);
    d = add(f, "kind=close,point=TC1,reason=r");
    assert_int_equal(d->target, TARGET_ITEM);
    d = add(f, "kind=close,point=TC1/out,reason=r");
    assert_int_equal(d->target, TARGET_POINT);
    assert_int_equal(d->place, 1);
    d = add(f, "kind=waive,car=2,point=R1/1,reason=r");
    assert_int_equal(d->target, TARGET_POINT);
    assert_string_equal(f->model->rules->points[d->place].id, "R1/1");
    d = add(f, "kind=retire,car=2,reason=r");
    assert_int_equal(d->target, TARGET_NONE);
}

static void a_derived_id_is_the_hash_of_the_fields_as_written(void **state) {
    struct fixture *f = *state;
    /* printf 'penalty|2||10|late papers||' | sha256sum */
    const struct decision *d = add(f, "kind=penalty,car=2,value=10,reason=late papers");
    assert_string_equal(d->id, "5c1d9b38832ee965f3faec727efe34dc");
}

static void the_same_decision_twice_counts_once(void **state) {
    struct fixture *f = *state;
    add(f, "kind=penalty,car=2,value=10,reason=late papers");
    assert_int_equal(decision_put(f->log, "kind=penalty,car=2,value=10,reason=late papers", NULL),
                     FACT_DUPLICATE);
    add(f, "kind=penalty,car=2,value=10,reason=late papers,id=p");
    assert_int_equal(
        decision_put(f->log, "kind=penalty,car=2,value=10,reason=late papers,id=p", NULL),
        FACT_DUPLICATE);
    refuse(f, "kind=penalty,car=2,value=11,reason=late papers,id=p",
           "id “p” is there already with other content");
    assert_int_equal(decisions_count(f->log), 2);
}

static void the_earliest_decision_goes_first_then_the_smallest_id(void **state) {
    struct fixture *f = *state;
    const struct decision *none = add(f, "kind=notional,car=2,point=TC1,value=1,reason=r,id=a");
    const struct decision *later =
        add(f, "kind=notional,car=2,point=TC1,value=2,reason=r,id=b,at=2027-05-20T10:00:00+01:00");
    const struct decision *early =
        add(f, "kind=notional,car=2,point=TC1,value=3,reason=r,id=d,at=2027-05-20T08:59:59Z");
    const struct decision *same =
        add(f, "kind=notional,car=2,point=TC1,value=4,reason=r,id=c,at=2027-05-20T08:59:59Z");
    assert_true(decision_before(later, none));
    assert_false(decision_before(none, later));
    assert_true(decision_before(early, later));
    assert_true(decision_before(same, early));
    assert_false(decision_before(same, same));
}

static void a_revoke_ends_what_it_names(void **state) {
    struct fixture *f = *state;
    add(f, "kind=penalty,car=2,value=10,reason=r,id=p");
    add(f, "kind=revoke,value=p,reason=r,id=r1");
    settle(f, ERR_OK);
    assert_false(holds(f, "p"));
    assert_true(holds(f, "r1"));
}

static void a_revoke_may_come_before_what_it_names(void **state) {
    struct fixture *f = *state;
    add(f, "kind=revoke,value=p,reason=r,id=r1");
    add(f, "kind=penalty,car=2,value=10,reason=r,id=p");
    settle(f, ERR_OK);
    assert_false(holds(f, "p"));
}

static void a_revoke_can_be_revoked_and_so_on(void **state) {
    struct fixture *f = *state;
    add(f, "kind=penalty,car=2,value=10,reason=r,id=p");
    add(f, "kind=revoke,value=r1,reason=r,id=r2");
    add(f, "kind=revoke,value=p,reason=r,id=r1");
    settle(f, ERR_OK);
    assert_true(holds(f, "p"));
    add(f, "kind=revoke,value=r2,reason=r,id=r3");
    settle(f, ERR_OK);
    assert_false(holds(f, "p"));
    assert_false(holds(f, "r2"));
}

static void two_revokes_of_one_decision_must_both_fall_to_bring_it_back(void **state) {
    struct fixture *f = *state;
    add(f, "kind=penalty,car=2,value=10,reason=r,id=p");
    add(f, "kind=revoke,value=p,reason=r,id=r1");
    add(f, "kind=revoke,value=p,reason=again,id=r2");
    add(f, "kind=revoke,value=r1,reason=r,id=s1");
    settle(f, ERR_OK);
    assert_false(holds(f, "p"));
    add(f, "kind=revoke,value=r2,reason=r,id=s2");
    settle(f, ERR_OK);
    assert_true(holds(f, "p"));
}

static void a_long_chain_of_revokes_settles_in_any_order(void **state) {
    struct fixture *f = *state;
    enum { LONG = 200 };
    add(f, "kind=penalty,car=2,value=10,reason=r,id=r0");
    for (int i = 1; i <= LONG; i++) {
        char fields[96];
        int link = i % 2 == 0 ? i : LONG - i; /* not in their order */
        (void)snprintf(fields, sizeof fields, "kind=revoke,value=r%d,reason=r,id=r%d", link - 1,
                       link);
        add(f, fields);
    }
    settle(f, ERR_OK);
    for (int i = 0; i <= LONG; i++) {
        char id[16];
        (void)snprintf(id, sizeof id, "r%d", i);
        assert_int_equal(holds(f, id), i % 2 == 0);
    }
}

static void a_revoke_of_nothing_is_told(void **state) {
    struct fixture *f = *state;
    add(f, "kind=penalty,car=2,value=10,reason=r,id=p");
    add(f, "kind=revoke,value=q,reason=r,id=r1");
    settle(f, ERR_INPUT);
    assert_true(holds(f, "p"));
}

static void a_circle_of_revokes_is_told_and_the_rest_holds(void **state) {
    struct fixture *f = *state;
    add(f, "kind=revoke,value=b,reason=r,id=a");
    add(f, "kind=revoke,value=c,reason=r,id=b");
    add(f, "kind=revoke,value=a,reason=r,id=c");
    add(f, "kind=penalty,car=2,value=10,reason=r,id=p");
    add(f, "kind=revoke,value=p,reason=r,id=q");
    settle(f, ERR_INPUT);
    assert_false(holds(f, "p"));
    assert_true(holds(f, "q"));
}

static void a_decision_that_revokes_itself_is_told(void **state) {
    struct fixture *f = *state;
    add(f, "kind=revoke,value=a,reason=r,id=a");
    settle(f, ERR_INPUT);
}

static void trying_a_decision_changes_nothing(void **state) {
    struct fixture *f = *state;
    assert_int_equal(decision_test(f->log, "kind=disqualify,car=2,reason=r,id=a", NULL),
                     FACT_ADDED);
    assert_int_equal(decisions_count(f->log), 0);
    assert_int_equal(decisions_find(f->log, "a"), -1);
}

static void check_file(struct fixture *f, const char *text, const char *expected) {
    struct problems problems = {0};
    int err = decisions_read(f->log, "decisions.csv", text, strlen(text), &problems);
    char *said = problems_text(&problems);
    assert_string_equal(said, expected);
    assert_int_equal(err, problems_fatal(&problems) ? ERR_INPUT : ERR_OK);
    free(said);
    problems_clear(&problems);
}

static void a_file_of_decisions_is_read_and_settled(void **state) {
    struct fixture *f = *state;
    check_file(f,
               "id,kind,car,point,value,reason\n"
               "r1,revoke,,,p,wrong car\n"
               "p,penalty,2,,10,late papers\n"
               "p,penalty,2,,10,late papers\n",
               "");
    assert_int_equal(decisions_count(f->log), 2);
    assert_false(holds(f, "p"));
    assert_int_equal(decisions_at(f->log, decisions_find(f->log, "p"))->line, 3);
}

static void every_wrong_row_of_a_file_is_an_error(void **state) {
    struct fixture *f = *state;
    check_file(f,
               "kind,car,point,value,reason\n"
               "penalty,3,,10,r\n"
               "penalty,2,,10,\n"
               "waive,2,TC1\n",
               "decisions.csv:2: car “3” is not in the entry list\n"
               "decisions.csv:3: the reason is empty\n"
               "decisions.csv:4: fewer fields than the header has\n");
}

static void a_revoke_of_nothing_is_told_with_its_line(void **state) {
    struct fixture *f = *state;
    check_file(f,
               "id,kind,car,point,value,reason\n"
               "p,penalty,2,,10,r\n"
               "a,revoke,,,q,r\n",
               "decisions.csv:3: value “q” is the id of no decision\n");
}

#define IN_FIXTURE(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

/* Each names the one before it. Settled in rounds that took hours; the alarm is for a hang. */
BEHAVIOUR(a_chain_of_revokes_is_settled_in_one_pass) {
    enum { LINKS = 100000 };
    struct textbuf rows = {0};
    textbuf_puts(&rows, "kind,car,point,value,reason,id\npenalty,1,,5,x,c0\n");
    for (int i = 1; i < LINKS; i++)
        textbuf_printf(&rows, "revoke,,,c%d,x,c%d\n", i - 1, i);
    assert_false(rows.failed);
    (void)alarm(60);
    struct model *model = event_text_good(&(struct event_text){
        .rules = RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), .decisions = textbuf_text(&rows)});
    (void)alarm(0);
    for (int i = 0; i < LINKS; i++) {
        assert_int_equal(model->event.decisions.list[i].holds, i % 2 == (LINKS - 1) % 2);
        assert_int_equal(model->event.decisions.list[i].decision->ends, i == 0 ? -1 : 0);
    }
    model_free(model);
    textbuf_clear(&rows);
}

/* The ends of chains are known once, also where a file has each behind what revokes it, and another
 * decision before them all. */
BEHAVIOUR(what_a_chain_ends_at_is_known_in_any_order) {
    enum { LINKS = 3000 };
    struct textbuf rows = {0};
    struct textbuf reason = {0};
    textbuf_puts(&rows, "kind,car,point,value,reason,id\npenalty,2,,7,x,other\n");
    for (int i = LINKS - 1; i > 0; i--)
        textbuf_printf(&rows, "revoke,,,c%d,x,c%d\n", i - 1, i);
    textbuf_puts(&rows, "penalty,1,,5,x,c0\n");
    assert_false(rows.failed);
    struct model *model = event_text_good(&(struct event_text){
        .rules = RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE), .decisions = textbuf_text(&rows)});
    for (int i = 0; i <= LINKS; i++)
        assert_int_equal(decisions_at(model->decisions, i)->ends,
                         i == 0 || i == LINKS ? -1 : LINKS);
    char fields[64];
    (void)snprintf(fields, sizeof fields, "kind=revoke,value=c%d,reason=r,id=more", LINKS - 1);
    assert_int_equal(decision_put(model->decisions, fields, &reason), FACT_ADDED);
    assert_int_equal(decisions_at(model->decisions, LINKS + 1)->ends, LINKS);
    model_free(model);
    textbuf_clear(&rows);
    textbuf_clear(&reason);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        IN_FIXTURE(each_kind_takes_what_the_table_says),
        IN_FIXTURE(values_are_read_by_kind),
        IN_FIXTURE(wrong_values_are_refused),
        IN_FIXTURE(a_reason_must_be_given),
        IN_FIXTURE(unknown_kinds_cars_points_and_ids_are_refused),
        IN_FIXTURE(an_allowance_has_its_places),
        IN_FIXTURE(results_are_given_to_scored_points_or_whole_items),
        IN_FIXTURE(targets_are_told_apart),
        IN_FIXTURE(a_derived_id_is_the_hash_of_the_fields_as_written),
        IN_FIXTURE(the_same_decision_twice_counts_once),
        IN_FIXTURE(the_earliest_decision_goes_first_then_the_smallest_id),
        IN_FIXTURE(a_revoke_ends_what_it_names),
        IN_FIXTURE(a_revoke_may_come_before_what_it_names),
        IN_FIXTURE(a_revoke_can_be_revoked_and_so_on),
        IN_FIXTURE(two_revokes_of_one_decision_must_both_fall_to_bring_it_back),
        IN_FIXTURE(a_long_chain_of_revokes_settles_in_any_order),
        IN_FIXTURE(a_revoke_of_nothing_is_told),
        IN_FIXTURE(a_circle_of_revokes_is_told_and_the_rest_holds),
        IN_FIXTURE(a_decision_that_revokes_itself_is_told),
        IN_FIXTURE(trying_a_decision_changes_nothing),
        IN_FIXTURE(a_file_of_decisions_is_read_and_settled),
        IN_FIXTURE(every_wrong_row_of_a_file_is_an_error),
        IN_FIXTURE(a_revoke_of_nothing_is_told_with_its_line),
        cmocka_unit_test(a_chain_of_revokes_is_settled_in_one_pass),
        cmocka_unit_test(what_a_chain_ends_at_is_known_in_any_order),
    };
    RUN_BEHAVIOURS(tests);
}
