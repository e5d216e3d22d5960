/* SPDX-License-Identifier: MIT */
/* Tracks whose crossings are known: along the equator, which is a geodesic on which longitude grows
 * evenly with the way driven, and along a meridian. */
#include "track/passages.h"

#include <math.h>
#include <stdlib.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

#define START_MS INT64_C(1811000000000)
/* A degree of the equator on WGS 84, metres. */
#define DEGREE 111319.490793

static const struct passage_options usual = {.error = 5, .gap_ms = 10000};
static const struct passage_line east = {.lat = 0, .lon = 10, .heading = 90, .half = 20};

static struct passage_search *begin(const struct passage_line *lines, size_t count,
                                    const struct passage_options *options) {
    struct passage_search *search = NULL;
    struct textbuf why = {0};
    assert_int_equal(passages_new(lines, count, options, &search, &why), ERR_OK);
    return search;
}

/* A fix so many metres east and north of 0 N 10 E, so many ms behind the start. */
static void fix(struct passage_search *search, double metres, double north, int64_t ms) {
    struct track_fix one = {.lat = north / 110574.3,
                            .lon = 10 + metres / DEGREE,
                            .ms = START_MS + ms,
                            .line = 1,
                            .follows = true};
    assert_int_equal(passages_take(search, &one, 0), ERR_OK);
}

BEHAVIOUR(a_passage_is_timed_between_two_fixes_to_the_millisecond) {
    for (int i = 0; i < 40; i++) {
        struct passage_search *search = begin(&east, 1, &usual);
        double speed = 5 + i; /* metres a second */
        double begun = -100 - 0.37 * i;
        for (int s = 0; s < 60; s++)
            fix(search, begun + speed * s, 0, s * INT64_C(1000));
        const struct passages *found = passages_finish(search);
        const struct passage *one = found->of[0].list;
        assert_int_equal(found->of[0].count, 1);
        assert_int_equal(one->way, PASSAGE_RIGHT);
        double due = -begun / speed * 1000;
        assert_true(fabs((double)(one->ms - START_MS) - due) <= 1);
        assert_true(fabs(one->speed - speed) < 0.01);
        assert_true(fabs(one->driven + begun) < 0.01);
        /* 5 m and 4 m/s² over a second, over the speed. */
        assert_true(fabs((double)one->uncertainty - 1000 * hypot(5, 0.5) / speed) <= 1.1);
        passages_free(search);
    }
}

BEHAVIOUR(a_line_across_a_meridian_is_passed_northward) {
    const struct passage_line line = {.lat = 54.2, .lon = -4.5, .heading = 0, .half = 15};
    struct passage_search *search = begin(&line, 1, &usual);
    for (int s = 0; s < 20; s++) {
        struct track_fix one = {.lat = 54.2 + 0.0002 * (s - 9.25),
                                .lon = -4.5 + 0.0001,
                                .ms = START_MS + s * 1000,
                                .follows = true};
        assert_int_equal(passages_take(search, &one, 3), ERR_OK);
    }
    const struct passage *one = passages_finish(search)->of[0].list;
    assert_true(fabs((double)(one->ms - START_MS) - 9250) <= 1);
    assert_true(fabs(one->beside - 6.526) < 0.01); /* 0.0001° at 54.2° north, to the east */
    assert_int_equal(one->file, 3);
    passages_free(search);
}

BEHAVIOUR(the_wrong_way_beside_the_line_and_turning_back_are_told_apart) {
    static const struct {
        double from, step, north;
        int turns_at;
        size_t count;
        enum passage_way way;
    } rows[] = {
        {-105, 10, 0, 99, 1, PASSAGE_RIGHT},       {105, -10, 0, 99, 1, PASSAGE_WRONG_WAY},
        {-105, 10, 19.9, 99, 1, PASSAGE_RIGHT},    {-105, 10, 20.1, 99, 0, PASSAGE_RIGHT},
        {-107, 10, 0, 12, 1, PASSAGE_TURNED_BACK}, {-305, 10, 0, 25, 0, PASSAGE_RIGHT},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct passage_search *search = begin(&east, 1, &usual);
        double at = rows[i].from;
        for (int s = 0; s < 40; s++) {
            fix(search, at, rows[i].north, s * INT64_C(1000));
            at += s + 1 < rows[i].turns_at ? rows[i].step : -rows[i].step;
        }
        const struct line_passages *of = &passages_finish(search)->of[0];
        assert_int_equal(of->count, rows[i].count);
        if (of->count > 0)
            assert_int_equal(of->list[0].way, rows[i].way);
        passages_free(search);
    }
}

BEHAVIOUR(nothing_is_read_in_a_gap_which_is_named) {
    struct passage_search *search = begin(&east, 1, &usual);
    for (int s = 0; s < 40; s++) {
        if (s < 8 || s > 19)
            fix(search, -105 + 10 * s, 0, s * INT64_C(1000));
    }
    const struct passages *found = passages_finish(search);
    assert_int_equal(found->of[0].count, 0);
    assert_true(found->of[0].in_gap);
    assert_int_equal(found->gap_count, 1);
    assert_int_equal(found->gaps[0].from - START_MS, 7000);
    assert_int_equal(found->gaps[0].to - START_MS, 20000);
    assert_true(fabs(found->of[0].nearest - 35) < 0.1);
    passages_free(search);
}

BEHAVIOUR(a_car_that_stands_on_the_line_passes_once) {
    struct passage_search *search = begin(&east, 1, &usual);
    int64_t ms = 0;
    for (int i = 0; i < 10; i++, ms += 1000)
        fix(search, -105 + 10 * i, 0, ms);
    for (int i = 0; i < 60; i++, ms += 1000)
        fix(search, i % 2 == 0 ? 2 : -2, 0, ms);
    for (int i = 1; i < 10; i++, ms += 1000)
        fix(search, 10 * i, 0, ms);
    const struct line_passages *of = &passages_finish(search)->of[0];
    assert_int_equal(of->count, 1);
    assert_int_equal(of->list[0].way, PASSAGE_RIGHT);
    assert_true(of->list[0].stood > 58000 && of->list[0].stood < 62000);
    assert_true(of->list[0].uncertainty > of->list[0].stood / 2);
    passages_free(search);
}

BEHAVIOUR(laps_are_passages_each_and_no_more_are_kept_than_the_bound) {
    struct passage_search *search = begin(&east, 1, &usual);
    int64_t ms = 0;
    for (int lap = 0; lap < PASSAGES_KEPT + 20; lap++) {
        for (int i = 0; i < 10; i++, ms += 1000)
            fix(search, -95 + 20 * i, 0, ms);
        for (int i = 0; i < 10; i++, ms += 1000)
            fix(search, 95 - 20 * i, 300, ms);
    }
    const struct line_passages *of = &passages_finish(search)->of[0];
    assert_int_equal(of->count, PASSAGES_KEPT + 20);
    assert_int_equal(of->kept, PASSAGES_KEPT);
    assert_int_equal(of->list[1].ms - of->list[0].ms, 20000);
    passages_free(search);
}

/* Always the same ones: 0 .. 1. */
static double chance(uint64_t *state) {
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (double)(*state >> 11) / 9007199254740992.0;
}

/* An error of a receiver along one axis: of two axes together 95 of 100 are within 5 m. */
static double slip(uint64_t *state) {
    double a = chance(state);
    double b = chance(state);
    return 5 / 2.4477 * sqrt(-2 * log(a + 1e-12)) * cos(6.283185307179586 * b);
}

BEHAVIOUR(a_noisy_track_is_within_its_uncertainty_95_times_of_100) {
    uint64_t seed = 15;
    int within = 0;
    enum { TRACKS = 2000 };
    for (int i = 0; i < TRACKS; i++) {
        struct passage_search *search = begin(&east, 1, &usual);
        double speed = 8 + 22 * chance(&seed);
        double begun = -150 - speed * chance(&seed);
        for (int s = 0; s < 60; s++)
            fix(search, begun + speed * s + slip(&seed), slip(&seed), s * INT64_C(1000));
        const struct line_passages *of = &passages_finish(search)->of[0];
        assert_int_equal(of->count, 1);
        double due = -begun / speed * 1000;
        within +=
            fabs((double)(of->list[0].ms - START_MS) - due) <= (double)of->list[0].uncertainty;
        passages_free(search);
    }
    assert_true(within >= TRACKS * 95 / 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_passage_is_timed_between_two_fixes_to_the_millisecond),
        cmocka_unit_test(a_line_across_a_meridian_is_passed_northward),
        cmocka_unit_test(the_wrong_way_beside_the_line_and_turning_back_are_told_apart),
        cmocka_unit_test(nothing_is_read_in_a_gap_which_is_named),
        cmocka_unit_test(a_car_that_stands_on_the_line_passes_once),
        cmocka_unit_test(laps_are_passages_each_and_no_more_are_kept_than_the_bound),
        cmocka_unit_test(a_noisy_track_is_within_its_uncertainty_95_times_of_100),
    };
    RUN_BEHAVIOURS(tests);
}
