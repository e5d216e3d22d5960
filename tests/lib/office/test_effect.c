/* SPDX-License-Identifier: MIT */
#include "office/effect.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "facts.h"
#include "office/what_if.h"
#include "scene.h"
#include "testing.h"

/* Late by 1, 2 and 3 minutes at 10 a minute: 10, 20, 30. */
static const struct event_text texts = {
    .rules = RULES(FIVA, "{'defaults': {'time-control': {'precision': 'minute', 'late': 10}}}",
                   "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:10:00'}"),
    .readings = "point,car,time,id\nTC1,1,08:12,a\nTC1,2,08:14,b\nTC1,5,08:18,c\n",
    .decisions = "kind,car,point,value,reason,id\npenalty,5,,0,none,zero\n"};

static struct what_if *begin(const struct scene *scene) {
    struct what_if *what_if = NULL;
    assert_int_equal(what_if_new(scene->event, &what_if), ERR_OK);
    return what_if;
}

/* What a decision or a reading (a row without kind) would do, as "car: from to, penalty to". */
static void check(const char *fields, const char *expected) {
    struct scene scene;
    struct textbuf b = {0};
    struct effect effect;
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    char *before = scene_standings(&scene, BY_OVERALL, FORM_JSON);
    struct what_if *what_if = begin(&scene);
    if (strncmp(fields, "kind=", 5) == 0) {
        struct decision_row row;
        decision_row(&row, fields);
        assert_int_equal(what_if_decision(what_if, &row.text, NULL), FACT_ADDED);
    } else {
        struct reading_row row;
        reading_row(&row, fields);
        assert_int_equal(what_if_reading(what_if, &row.text, NULL), FACT_ADDED);
    }
    assert_int_equal(what_if_score(what_if, scene.view->request), ERR_OK);
    assert_int_equal(effect_make(scene.scores, what_if->scores, &effect), ERR_OK);
    for (int i = 0; i < effect.count; i++) {
        const struct move *m = &effect.moves[i];
        textbuf_printf(&b, "%s%d: %d to %d, %lld", i > 0 ? "; " : "",
                       scene.event->entries->list[m->car].number, m->before.position,
                       m->after.position, (long long)m->after.penalty / 1000);
    }
    textbuf_printf(&b, " (%d)", effect_places(&effect));
    assert_string_equal(textbuf_text(&b), expected);
    char *after = scene_standings(&scene, BY_OVERALL, FORM_JSON);
    assert_string_equal(before, after);
    free(before);
    free(after);
    textbuf_clear(&b);
    effect_clear(&effect);
    what_if_free(what_if);
    scene_close(&scene);
}

BEHAVIOUR(a_decision_moves_the_car_and_those_it_passes) {
    check("kind=penalty,car=1,value=15,reason=x", "2: 2 to 1, 20; 1: 1 to 2, 25 (2)");
    check("kind=penalty,car=1,value=5,reason=x", "1: 1 to 1, 15 (0)");
    check("kind=disqualify,car=1,reason=x", "2: 2 to 1, 20; 5: 3 to 2, 30; 1: 1 to 0, 10 (3)");
    check("kind=waive,car=5,point=TC1,reason=x", "5: 3 to 1, 0; 1: 1 to 2, 10; 2: 2 to 3, 20 (3)");
    check("kind=close,point=TC1,reason=x", " (0)");
}

BEHAVIOUR(a_reading_is_tried_like_a_decision) {
    check("point=TC1,car=5,time=08:15,replaces=c,reason=misread",
          "5: 3 to 1, 0; 1: 1 to 2, 10; 2: 2 to 3, 20 (3)");
    check("point=TC1,car=1,time=08:11,at=2027-05-20T08:11:00Z", "1: 1 to 1, 0 (0)");
}

BEHAVIOUR(further_tries_are_scored_with_those_before) {
    struct scene scene;
    struct decision_row row;
    struct textbuf reason = {0};
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    struct what_if *what_if = begin(&scene);
    decision_row(&row, "kind=penalty,car=1,value=15,reason=x,id=p");
    assert_int_equal(what_if_decision(what_if, &row.text, &reason), FACT_ADDED);
    assert_int_equal(what_if_score(what_if, scene.view->request), ERR_OK);
    assert_int_equal(what_if->scores->cars[0].position, 2);
    decision_row(&row, "kind=revoke,value=p,reason=x");
    assert_int_equal(what_if_decision(what_if, &row.text, &reason), FACT_ADDED);
    assert_int_equal(what_if_score(what_if, scene.view->request), ERR_OK);
    assert_int_equal(what_if->scores->cars[0].position, 1);
    decision_row(&row, "kind=revoke,value=nobody,reason=x");
    assert_int_equal(what_if_decision(what_if, &row.text, &reason), FACT_REFUSED);
    assert_string_equal(textbuf_text(&reason), "value “nobody” is the id of no decision");
    assert_int_equal(scene.event->decisions.count, 1);
    textbuf_clear(&reason);
    what_if_free(what_if);
    scene_close(&scene);
}

BEHAVIOUR(moves_are_told_with_both_sides) {
    struct scene scene;
    struct decision_row row;
    struct effect effect;
    struct textbuf b = {0};
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    struct what_if *what_if = begin(&scene);
    decision_row(&row, "kind=retire,car=5,reason=axle");
    assert_int_equal(what_if_decision(what_if, &row.text, NULL), FACT_ADDED);
    assert_int_equal(what_if_score(what_if, scene.view->request), ERR_OK);
    assert_int_equal(effect_make(scene.scores, what_if->scores, &effect), ERR_OK);
    effect_write_json(&b, &effect);
    assert_string_equal(
        textbuf_text(&b),
        "[{\"car\":5,\"crew\":[\"Dot Cedar\",\"Eli Cedar\"],\"class\":\"E\",\"before\":{"
        "\"position\":3,\"class_position\":1,\"fails\":0,\"penalty\":\"30.000\",\"status\":"
        "\"finished\"},\"after\":{\"position\":null,\"class_position\":null,\"fails\":0,"
        "\"penalty\":\"0.000\",\"status\":\"not-started\"}}]");
    textbuf_clear(&b);
    effect_clear(&effect);
    what_if_free(what_if);
    scene_close(&scene);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_decision_moves_the_car_and_those_it_passes),
        cmocka_unit_test(a_reading_is_tried_like_a_decision),
        cmocka_unit_test(further_tries_are_scored_with_those_before),
        cmocka_unit_test(moves_are_told_with_both_sides),
    };
    RUN_BEHAVIOURS(tests);
}
