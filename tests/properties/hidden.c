/* SPDX-License-Identifier: MIT */
/* What is hidden stays hidden: the public sees a live event as if an item that is not revealed were
 * not on the route and nothing had been read or ruled there, byte for byte; and no public page
 * holds such an item's id or name. */
#include <ctype.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "dice.h"
#include "facts.h"
#include "replay.h"
#include "testing.h"

static const struct viewpoint public_look = {.live = true, .public_view = true};

/* True where `word` stands in the text, not as a part of a longer word. */
static bool holds_word(const char *text, const char *word) {
    size_t len = strlen(word);
    for (const char *p = text; (p = strstr(p, word)) != NULL; p++) {
        bool begins = p == text || (!isalnum((unsigned char)p[-1]) && p[-1] != '-');
        bool ends = !isalnum((unsigned char)p[len]) && p[len] != '-';
        if (begins && ends)
            return true;
    }
    return false;
}

/* Which items the public may not see. The caller frees the list. */
static bool *hidden_items(struct model *model) {
    struct scene scene;
    bool *hidden = calloc((size_t)model->rules->item_count, sizeof *hidden);
    assert_non_null(hidden);
    scene_of(&scene, &model->event, public_look);
    memcpy(hidden, scene.view->hidden, (size_t)model->rules->item_count * sizeof *hidden);
    scene_close(&scene);
    return hidden;
}

/* event.json without the hidden items, and without ties that name them. */
static char *rules_without(const struct case_folder *folder, const struct rules *rules,
                           const bool *hidden) {
    json_t *root = json_loadb(folder->files.rules.text, folder->files.rules.len, 0, NULL);
    assert_non_null(root);
    json_t *route = json_object_get(root, "route");
    json_t *ties = json_object_get(json_object_get(root, "scoring"), "ties");
    for (int i = rules->item_count - 1; i >= 0; i--) {
        if (!hidden[i])
            continue;
        assert_int_equal(json_array_remove(route, (size_t)i), 0);
        for (size_t t = json_array_size(ties); t-- > 0;) {
            const char *tie = json_string_value(json_array_get(ties, t));
            if (strncmp(tie, "test:", 5) == 0 && strcmp(tie + 5, rules->items[i].id) == 0)
                assert_int_equal(json_array_remove(ties, t), 0);
        }
    }
    /* Numbers have few digits in these files; fifteen give them back as they were written. */
    char *text = json_dumps(root, JSON_REAL_PRECISION(15));
    json_decref(root);
    assert_non_null(text);
    return text;
}

static int item_of_decision(const struct rules *rules, const struct decision *d) {
    if (d->target == TARGET_ITEM)
        return d->place;
    return d->target == TARGET_POINT ? rules->points[d->place].item : -1;
}

/* The last point of an item before this one that the public sees; NULL at the start. */
static const char *point_before(const struct rules *rules, const bool *hidden, int item) {
    while (--item >= 0) {
        if (!hidden[item])
            return rules
                ->points[rules->items[item].first_point + rules->items[item].point_count - 1]
                .id;
    }
    return NULL;
}

/* Which decisions are about what is hidden: those given there (but for retirements, which stay
 * with the car), and what revokes them. The caller frees the list. */
static bool *hidden_decisions(const struct model *model, const bool *hidden) {
    size_t count = (size_t)decisions_count(model->decisions);
    bool *out = calloc(count + 1, sizeof *out);
    assert_non_null(out);
    for (bool again = true; again;) {
        again = false;
        for (size_t i = 0; i < count; i++) {
            const struct decision *d = decisions_at(model->decisions, (int)i);
            int item = item_of_decision(model->rules, d);
            int target = d->kind == DECIDE_REVOKE
                             ? decisions_find(model->decisions, d->text.field[DECISION_VALUE])
                             : -1;
            bool is = (item >= 0 && hidden[item] && d->kind != DECIDE_RETIRE) ||
                      (target >= 0 && out[target]);
            again = again || (is && !out[i]);
            out[i] = is;
        }
    }
    return out;
}

static void add_decisions(struct model *to, const struct model *from, const bool *hidden) {
    bool *left_out = hidden_decisions(from, hidden);
    for (int i = 0; i < decisions_count(from->decisions); i++) {
        const struct decision *d = decisions_at(from->decisions, i);
        int item = item_of_decision(from->rules, d);
        struct decision_text text = d->text;
        if (left_out[i])
            continue;
        text.field[DECISION_ID] = d->id;
        if (item >= 0 && hidden[item]) {
            const char *point = point_before(from->rules, hidden, item);
            text.field[DECISION_POINT] = point == NULL ? "" : point;
        }
        assert_int_equal(decisions_add(to->decisions, &text, NULL, NULL), FACT_ADDED);
    }
    free(left_out);
}

/* The event without the hidden items. */
static struct model *stripped(const struct replay *replay, struct model *model,
                              const bool *hidden) {
    struct problems problems = {0};
    struct event_files files = replay->folder.files;
    struct model *out = NULL;
    char *rules = rules_without(&replay->folder, model->rules, hidden);
    files.rules = (struct file_text){rules, strlen(rules)};
    files.readings = files.decisions = (struct file_text){NULL, 0};
    if (model_read(&files, &problems, &out) != ERR_OK)
        fail_msg("%s", problems_text(&problems));
    for (int i = 0; i < readings_count(model->readings); i++) {
        const struct reading *r = readings_at(model->readings, i);
        struct reading_text text = r->text;
        text.field[READING_ID] = r->id;
        if (!hidden[model->rules->points[r->point].item])
            assert_int_equal(readings_add(out->readings, &text, NULL, NULL), FACT_ADDED);
    }
    add_decisions(out, model, hidden);
    replay_settle(out);
    free(rules);
    problems_clear(&problems);
    return out;
}

/* Looks for ids and names of hidden items in all public pages. Names that something visible has
 * too, or that a decision's words tell, are no secret. */
static void check_words(struct model *model, const bool *hidden, struct viewpoint viewpoint,
                        int cars, const char *what) {
    const struct rules *rules = model->rules;
    struct textbuf pages = {0};
    show_all(&pages, model, viewpoint, cars);
    for (int i = 0; i < rules->item_count; i++) {
        if (!hidden[i])
            continue;
        const char *words[] = {rules->items[i].id, rules->items[i].name};
        for (size_t w = 0; w < COUNT_OF(words); w++) {
            bool known = strlen(words[w]) < 2;
            for (int j = 0; j < rules->item_count && !known; j++)
                known = !hidden[j] && (holds_word(rules->items[j].name, words[w]) ||
                                       strcmp(rules->items[j].id, words[w]) == 0);
            for (int d = 0; d < decisions_count(model->decisions) && !known; d++)
                known = holds_word(decisions_at(model->decisions, d)->text.field[DECISION_REASON],
                                   words[w]);
            if (!known && holds_word(textbuf_text(&pages), words[w]))
                fail_msg("%s: “%s” of %s is told", what, words[w], rules->items[i].id);
        }
    }
    textbuf_clear(&pages);
}

static int count_hidden(const struct rules *rules, const bool *hidden) {
    int count = 0;
    for (int i = 0; i < rules->item_count; i++)
        count += hidden[i];
    return count;
}

/* True where a correction leads from a hidden point to a visible one or the other way: leaving out
 * one of the two is then not the same as never having been there. */
static bool corrections_cross(const struct model *model, const bool *hidden) {
    for (int i = 0; i < readings_count(model->readings); i++) {
        const struct reading *r = readings_at(model->readings, i);
        int other = readings_find(model->readings, r->text.field[READING_REPLACES]);
        if (other >= 0 &&
            hidden[model->rules->points[r->point].item] !=
                hidden[model->rules->points[readings_at(model->readings, other)->point].item])
            return true;
    }
    return false;
}

/* True where a car retired at a hidden item. The words of that decision are kept from the public,
 * so that boards, which tell why a car has no place, then differ from those of an event without the
 * item. */
static bool retired_in_hiding(const struct model *model, const bool *hidden) {
    for (int i = 0; i < decisions_count(model->decisions); i++) {
        const struct decision *d = decisions_at(model->decisions, i);
        int item = item_of_decision(model->rules, d);
        if (d->kind == DECIDE_RETIRE && item >= 0 && hidden[item])
            return true;
    }
    return false;
}

/* True where a hidden test is on the road's schedule: its target still counts there, so that an
 * event without it is another. */
static bool any_on_the_road(const struct rules *rules, const bool *hidden) {
    for (int i = 0; i < rules->item_count; i++) {
        if (hidden[i] && rules->items[i].road.on)
            return true;
    }
    return false;
}

/* What the public sees of the event, against the event without what is hidden. */
static int check_event_as_it_is(const struct replay *replay, struct model *model, int cars,
                                const char *what) {
    const struct rules *rules = model->rules;
    bool *hidden = hidden_items(model);
    int count = count_hidden(rules, hidden);
    if (count > 0 && count < rules->item_count) {
        check_words(model, hidden, public_look, cars, what);
        for (int i = 0; i < rules->item_count; i += 1 + rules->item_count / 6) {
            struct viewpoint after = {
                .live = true, .public_view = true, .after = rules->items[i].id};
            if (!hidden[i])
                check_words(model, hidden, after, cars, what);
        }
    }
    if (count > 0 && count < rules->item_count && !corrections_cross(model, hidden) &&
        !any_on_the_road(rules, hidden)) {
        struct model *without = stripped(replay, model, hidden);
        struct textbuf seen = {0};
        struct textbuf plain = {0};
        void (*show)(struct textbuf *, struct model *, struct viewpoint, int) =
            retired_in_hiding(model, hidden) ? show_data : show_all;
        show(&seen, model, public_look, cars);
        show(&plain, without, (struct viewpoint){.live = true}, cars);
        assert_same_show(&seen, &plain, what);
        for (int i = 0; i < rules->item_count; i += 1 + rules->item_count / 6) {
            if (hidden[i])
                continue;
            struct viewpoint after = {
                .live = true, .public_view = true, .after = rules->items[i].id};
            textbuf_reset(&seen);
            textbuf_reset(&plain);
            show(&seen, model, after, cars);
            after.public_view = false;
            show(&plain, without, after, cars);
            assert_same_show(&seen, &plain, what);
        }
        textbuf_clear(&seen);
        textbuf_clear(&plain);
        model_free(without);
    }
    free(hidden);
    return count;
}

/* The event as it is while it runs: what was closed is open again, but for a random part of the
 * route, so that some items are revealed. */
static struct model *partly_closed(const struct replay *replay, struct dice *dice, size_t one_in) {
    struct model *model = replay_in_order(replay, NULL, NULL);
    char fields[FACT_TEXT_MAX];
    for (int i = 0; i < decisions_count(replay->model->decisions); i++) {
        const struct decision *d = model->event.decisions.list[i].decision;
        if (d->kind != DECIDE_CLOSE || !model->event.decisions.list[i].holds)
            continue;
        (void)snprintf(fields, sizeof fields, "kind=revoke,value=%s,reason=still running", d->id);
        assert_int_equal(decision_put(model->decisions, fields, NULL), FACT_ADDED);
    }
    for (int p = 0; p < model->rules->point_count; p++) {
        if (dice_below(dice, one_in) != 0)
            continue;
        (void)snprintf(fields, sizeof fields, "kind=close,point=%s,reason=through,id=p-%d",
                       model->rules->points[p].id, p);
        assert_int_equal(decision_put(model->decisions, fields, NULL), FACT_ADDED);
    }
    replay_settle(model);
    return model;
}

struct tally_of_hidden {
    int folders;
    int items;
};

static void check_folder(const char *path, int cars, struct tally_of_hidden *tally) {
    struct replay replay;
    struct dice dice = {1970};
    replay_open(&replay, path);
    int items = check_event_as_it_is(&replay, replay.model, cars, path);
    for (size_t one_in = 2; one_in <= 4; one_in++) {
        struct model *model = partly_closed(&replay, &dice, one_in);
        items += check_event_as_it_is(&replay, model, cars, path);
        model_free(model);
    }
    tally->folders += items > 0;
    tally->items += items;
    replay_close(&replay);
}

static void check_case(const char *path, void *context) {
    check_folder(path, -1, context);
}

BEHAVIOUR(the_public_sees_the_demo_as_if_hidden_items_were_not_there) {
    struct tally_of_hidden tally = {0, 0};
    check_folder(DEMO_FOLDER, 12, &tally);
    assert_true(tally.items > 0);
}

BEHAVIOUR(the_public_sees_every_case_as_if_hidden_items_were_not_there) {
    struct tally_of_hidden tally = {0, 0};
    assert_true(each_case_folder(check_case, &tally) >= 70);
    assert_true(tally.folders >= 20);
}

/* An event where everything that can be hidden has words and numbers of its own. */
BEHAVIOUR(no_public_page_holds_a_word_or_number_of_a_hidden_item) {
    static const char *const secrets[] = {"QZ7",      "Quernstone", "QP8",   "Quiet Pool", "QS9",
                                          "Quarry",   "7.917",      "41.37", "6.119",      "13.771",
                                          "10:41:37", "03:17",      "quill"};
    struct event_text texts = {
        .rules = RULES_OF_TWO_DAYS(
            FIVA,
            "{'ties': ['most-clean', 'test:QZ7'], 'drop_worst': {'count': 1}, "
            "'finisher': {'share': '1/2'}, 'coefficient': {'by': 'year', 'apply': 'total'}}",
            "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}, "
            "{'day': 1, 'id': 'QZ7', 'kind': 'regularity', 'name': 'Quernstone', "
            "'distance': 7.917, 'speeds': [{'from': 0, 'speed': 41.37}], 'checks': "
            "[{'at': 6.119}, {'at': 13.771}]}, {'day': 1, 'id': 'QP8', "
            "'kind': 'passage-control', 'reveal': 'closed', 'name': 'Quiet Pool', "
            "'penalty': {'missed': 317}}, {'day': 1, 'id': 'TC2', 'kind': 'time-control', "
            "'target': '00:50:00'}, {'day': 2, 'id': 'QS9', 'kind': 'special-test', "
            "'reveal': 'closed', 'name': 'Quarry', 'bogey': '00:03:17', "
            "'faults': {'quill': 5}}, {'day': 2, 'id': 'TC3', 'kind': 'time-control', "
            "'target': '00:50:00'}"),
        .readings = "point,car,time,faults\nTC1,1,08:46,\nQZ7/start,1,10:30:00,\n"
                    "QZ7/1,1,10:41:37,\nQP8,1,10:45,\nTC1,2,08:47,\nQZ7/start,2,10:31:00,\n"
                    "QS9/start,2,10:41:37,\nQS9/finish,2,10:45:00,quill=2\n"
                    "QZ7/1,2,10:41:37,\nQZ7/1,2,10:41:38,\n",
        .decisions = "kind,car,point,value,reason\nretire,5,QZ7/1,,at the Quernstone\n"
                     "notional,1,QZ7/2,17,r\nwaive,2,QP8,,r\nallowance,2,QZ7/1,31,r\n"
                     "cancel,,QS9,,r\n"};
    struct textbuf pages = {0};
    struct model *model = event_text_good(&texts);
    show_all(&pages, model, public_look, -1);
    show_all(&pages, model, (struct viewpoint){.live = true, .public_view = true, .after = "TC2"},
             -1);
    for (size_t i = 0; i < COUNT_OF(secrets); i++) {
        if (strstr(textbuf_text(&pages), secrets[i]) != NULL)
            fail_msg("“%s” is told", secrets[i]);
    }
    /* the organiser's pages hold them all but for the distance to the control, which no page has */
    textbuf_reset(&pages);
    show_all(&pages, model, (struct viewpoint){.live = true}, -1);
    for (size_t i = 0; i < COUNT_OF(secrets); i++) {
        if (strcmp(secrets[i], "7.917") != 0 && strcmp(secrets[i], "13.771") != 0 &&
            strcmp(secrets[i], "03:17") != 0 && strstr(textbuf_text(&pages), secrets[i]) == NULL)
            fail_msg("“%s” is told nowhere: the test looks for nothing", secrets[i]);
    }
    textbuf_clear(&pages);
    model_free(model);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_public_page_holds_a_word_or_number_of_a_hidden_item),
        cmocka_unit_test(the_public_sees_the_demo_as_if_hidden_items_were_not_there),
        cmocka_unit_test(the_public_sees_every_case_as_if_hidden_items_were_not_there),
    };
    RUN_BEHAVIOURS(tests);
}
