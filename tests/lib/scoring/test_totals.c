/* SPDX-License-Identifier: MIT */
/* Totals at the extremes of what an event may say. */
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/textbuf.h"
#include "scene.h"
#include "testing.h"

#define DEAREST "1000000000"

/* 1,000 is the largest that an event may give; car 1 is of period C. */
#define DEAR_COEFFICIENT                                                                           \
    "{'coefficient': {'by': 'class', 'table': {'C': 1000}, 'kinds': ['special-test'], "            \
    "'standings': 'overall'}}"

/* As many tests as an event may have, each at the dearest rate, with every car read at every test
 * an hour after it might have been. */
static void open_dear(struct scene *scene, const char *decisions) {
    struct textbuf route = {0};
    struct textbuf readings = {0};
    struct textbuf rules = {0};
    textbuf_puts(&readings, "point,car,elapsed\n");
    for (int i = 1; i <= ITEMS_MAX; i++) {
        textbuf_printf(
            &route,
            "%s{'day': 1, 'id': 'S%d', 'kind': 'special-test', 'penalty': {'late': " DEAREST "}}",
            i > 1 ? ", " : "", i);
        textbuf_printf(&readings, "S%d/finish,1,3600\nS%d/finish,2,3600\nS%d/finish,5,0.9\n", i, i,
                       i);
    }
    textbuf_printf(&rules, RULES(FIVA, DEAR_COEFFICIENT, "%s"), textbuf_text(&route));
    struct event_text texts = {
        .rules = textbuf_text(&rules), .readings = textbuf_text(&readings), .decisions = decisions};
    assert_false(rules.failed || readings.failed || route.failed);
    scene_open(scene, &texts, (struct viewpoint){.live = false});
    textbuf_clear(&route);
    textbuf_clear(&readings);
    textbuf_clear(&rules);
}

static int64_t total(const struct scene *scene, int number, enum basis basis) {
    return scene_car(scene, number)->tally[basis].total;
}

BEHAVIOUR(every_test_at_the_dearest_rate_with_a_coefficient_of_a_thousand_is_exact) {
    struct scene scene;
    open_dear(&scene, NULL);
    assert_true(total(&scene, 1, BASIS_PLAIN) == ITEMS_MAX * DECIMAL_MAX);
    assert_true(total(&scene, 2, BASIS_CORRECTED) == ITEMS_MAX * DECIMAL_MAX);
    assert_true(total(&scene, 1, BASIS_CORRECTED) == ITEMS_MAX * DECIMAL_MAX * 1000);
    assert_int_equal(total(&scene, 5, BASIS_CORRECTED), 0);
    scene_close(&scene);
}

BEHAVIOUR(what_would_pass_the_largest_sum_is_held_there_and_still_ranked) {
    struct scene scene;
    open_dear(&scene, "kind,car,point,value,reason\npenalty,1,," DEAREST ",towed\n");
    assert_true(total(&scene, 1, BASIS_CORRECTED) == DECIMAL_SUM_MAX);
    assert_int_equal(scene_car(&scene, 5)->position, 1);
    assert_int_equal(scene_car(&scene, 2)->position, 2);
    assert_int_equal(scene_car(&scene, 1)->position, 3);
    char *page = scene_standings(&scene, BY_OVERALL, FORM_JSON);
    assert_non_null(strstr(page, "\"2000000000000000.000\""));
    free(page);
    scene_close(&scene);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_test_at_the_dearest_rate_with_a_coefficient_of_a_thousand_is_exact),
        cmocka_unit_test(what_would_pass_the_largest_sum_is_held_there_and_still_ranked),
    };
    RUN_BEHAVIOURS(tests);
}
