/* SPDX-License-Identifier: MIT */
#include "format/json_read.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event_text.h"
#include "testing.h"

struct fixture {
    struct arena *arena;
    struct problems problems;
    struct json_reader reader;
    json_t *root;
};

static int read_bytes(struct fixture *f, const char *text, size_t len) {
    *f = (struct fixture){.arena = arena_new()};
    assert_non_null(f->arena);
    f->reader =
        (struct json_reader){.file = "event.json", .arena = f->arena, .problems = &f->problems};
    return json_read_text(&f->reader, text, len, &f->root);
}

/* Reads JSON with ' for ". */
static int read_text(struct fixture *f, const char *text) {
    char *json = quoted(text);
    int err = read_bytes(f, json, strlen(json));
    free(json);
    return err;
}

static void done(struct fixture *f, const char *expected_problems) {
    char *text = problems_text(&f->problems);
    assert_string_equal(text, expected_problems);
    free(text);
    json_decref(f->root);
    arena_free(f->arena);
    problems_clear(&f->problems);
}

BEHAVIOUR(numbers_keep_their_digits) {
    static const struct {
        const char *number;
        int64_t thousandths;
    } rows[] = {
        {"0.1", 100}, {"0.10", 100}, {"3.201", 3201}, {"-12.5", -12500}, {"48", 48000},
        {"0", 0},     {"-0", 0},     {"1.005", 1005}, {"0.3", 300},      {"999999.999", 999999999}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char text[64];
        int64_t out = 0;
        struct fixture f;
        (void)snprintf(text, sizeof text, "{'x': %s}", rows[i].number);
        assert_int_equal(read_text(&f, text), ERR_OK);
        assert_true(json_is_number_text(json_object_get(f.root, "x")));
        assert_true(
            json_get_decimal(&f.reader, f.root, NULL, "x", true, INT64_MIN, INT64_MAX, &out));
        assert_int_equal(out, rows[i].thousandths);
        done(&f, "");
    }
}

BEHAVIOUR(a_fourth_decimal_is_refused_and_not_lost_on_the_way) {
    struct fixture f;
    int64_t out = 77;
    assert_int_equal(read_text(&f, "{'x': 3.2001, 'y': '1.00000'}"), ERR_OK);
    assert_false(json_get_decimal(&f.reader, f.root, NULL, "x", true, 0, 10000, &out));
    assert_false(json_get_decimal(&f.reader, f.root, NULL, "y", true, 0, 10000, &out));
    assert_int_equal(out, 77);
    done(&f, "event.json: x: “3.2001” has more than three decimals\n"
             "event.json: y: “1.00000” has more than three decimals\n");
}

BEHAVIOUR(a_decimal_may_be_a_text_too) {
    struct fixture f;
    int64_t out = 0;
    assert_int_equal(read_text(&f, "{'x': '2000', 'y': '1.4'}"), ERR_OK);
    assert_true(json_get_decimal(&f.reader, f.root, NULL, "x", true, 0, 9999999, &out));
    assert_int_equal(out, 2000000);
    assert_true(json_get_decimal(&f.reader, f.root, NULL, "y", true, 0, 9999999, &out));
    assert_int_equal(out, 1400);
    done(&f, "");
}

BEHAVIOUR(a_decimal_that_is_none_is_told) {
    struct fixture f;
    int64_t out = 0;
    assert_int_equal(
        read_text(&f, "{'a': 1e3, 'b': 'ten', 'c': [], 'd': null, 'e': 5.001, 'f': -1, 'g': true}"),
        ERR_OK);
    for (const char *key = "abcdefgh"; *key != '\0'; key++) {
        char name[2] = {*key, '\0'};
        assert_false(json_get_decimal(&f.reader, f.root, NULL, name, true, 0, 5000, &out));
    }
    done(&f, "event.json: a: must be a number in plain decimals\n"
             "event.json: b: must be a number in plain decimals\n"
             "event.json: c: must be a number in plain decimals\n"
             "event.json: d: must be a number in plain decimals\n"
             "event.json: e: “5.001” is out of range: 0 to 5\n"
             "event.json: f: “-1” is out of range: 0 to 5\n"
             "event.json: g: must be a number in plain decimals\n"
             "event.json: h: is missing\n");
}

BEHAVIOUR(whole_numbers_are_numbers_and_whole) {
    struct fixture f;
    int64_t out = 0;
    assert_int_equal(read_text(&f, "{'a': 3, 'b': 3.0, 'c': '3', 'd': 4, 'e': -3, 'f': 2}"),
                     ERR_OK);
    assert_true(json_get_whole(&f.reader, f.root, NULL, "a", true, 3, 3, &out));
    assert_int_equal(out, 3);
    for (const char *key = "bcdef"; *key != '\0'; key++) {
        char name[2] = {*key, '\0'};
        assert_false(json_get_whole(&f.reader, f.root, NULL, name, true, 3, 3, &out));
    }
    done(&f, "event.json: b: must be a whole number from 3 to 3\n"
             "event.json: c: must be a whole number from 3 to 3\n"
             "event.json: d: must be a whole number from 3 to 3\n"
             "event.json: e: must be a whole number from 3 to 3\n"
             "event.json: f: must be a whole number from 3 to 3\n");
}

BEHAVIOUR(durations_may_be_numbers_of_seconds_too) {
    struct fixture f;
    int64_t out = 0;
    assert_int_equal(
        read_text(&f,
                  "{'a': '00:45:00', 'b': 11.70, 'c': '9.00', 'd': 11.7001, 'e': 'soon', 'f': {}, "
                  "'g': '48:00:00'}"),
        ERR_OK);
    assert_true(json_get_duration(&f.reader, f.root, NULL, "a", true, &out));
    assert_int_equal(out, 2700000);
    assert_true(json_get_duration(&f.reader, f.root, NULL, "b", true, &out));
    assert_int_equal(out, 11700);
    assert_true(json_get_duration(&f.reader, f.root, NULL, "c", true, &out));
    assert_int_equal(out, 9000);
    assert_false(json_get_duration(&f.reader, f.root, NULL, "none", false, &out));
    for (const char *key = "defg"; *key != '\0'; key++) {
        char name[2] = {*key, '\0'};
        assert_false(json_get_duration(&f.reader, f.root, NULL, name, true, &out));
    }
    assert_int_equal(out, 9000);
    done(
        &f,
        "event.json: d: “11.7001” has more than three decimals\n"
        "event.json: e: “soon” is no duration: write HH:MM:SS or plain seconds, up to 47:59:59.999\n"
        "event.json: f: must be a duration\n"
        "event.json: g: “48:00:00” is no duration: write HH:MM:SS or plain seconds, up to 47:59:59.999\n");
}

BEHAVIOUR(texts_are_texts_and_no_numbers) {
    struct fixture f;
    const char *out = NULL;
    assert_int_equal(
        read_text(&f, "{'a': 'Hollin Moor', 'b': 5, 'c': '', 'd': 'a\\u0007b', 'e': true}"),
        ERR_OK);
    assert_true(json_get_text(&f.reader, f.root, NULL, "a", true, &out));
    assert_string_equal(out, "Hollin Moor");
    assert_true(json_get_text(&f.reader, f.root, NULL, "c", true, &out));
    assert_string_equal(out, "");
    for (const char *key = "bde"; *key != '\0'; key++) {
        char name[2] = {*key, '\0'};
        assert_false(json_get_text(&f.reader, f.root, NULL, name, true, &out));
    }
    assert_false(json_get_text(&f.reader, f.root, NULL, "none", false, &out));
    done(&f, "event.json: b: must be a text\n"
             "event.json: d: holds a control character\n"
             "event.json: e: must be a text\n");
}

BEHAVIOUR(choices_flags_and_lists_are_checked) {
    static const char *const words[] = {"km", "mi", NULL};
    struct fixture f;
    int choice = -1;
    bool flag = false;
    const json_t *list = NULL;
    assert_int_equal(
        read_text(&f, "{'a': 'mi', 'b': 'KM', 'c': 1, 'd': true, 'e': 'true', 'f': [1], 'g': {}}"),
        ERR_OK);
    assert_true(json_get_choice(&f.reader, f.root, NULL, "a", true, words, &choice));
    assert_int_equal(choice, 1);
    assert_false(json_get_choice(&f.reader, f.root, NULL, "b", true, words, &choice));
    assert_false(json_get_choice(&f.reader, f.root, NULL, "c", true, words, &choice));
    assert_true(json_get_flag(&f.reader, f.root, NULL, "d", &flag));
    assert_true(flag);
    assert_false(json_get_flag(&f.reader, f.root, NULL, "e", &flag));
    assert_false(json_get_flag(&f.reader, f.root, NULL, "none", &flag));
    assert_true(json_get_array(&f.reader, f.root, NULL, "f", true, &list));
    assert_int_equal(json_array_size(list), 1);
    assert_false(json_get_array(&f.reader, f.root, NULL, "g", true, &list));
    done(&f, "event.json: b: must be one of “km”, “mi”\n"
             "event.json: c: must be one of “km”, “mi”\n"
             "event.json: e: must be true or false\n"
             "event.json: g: must be a list\n");
}

BEHAVIOUR(an_unknown_key_is_told_with_its_whole_path) {
    static const char *const known[] = {"from", "speed", NULL};
    static const char *const more[] = {"at", NULL};
    struct fixture f;
    struct json_place route = {.key = "route"};
    struct json_place item = {.up = &route, .index = 3};
    struct json_place speeds = {.up = &item, .key = "speeds"};
    struct json_place speed = {.up = &speeds, .index = 1};
    assert_int_equal(read_text(&f, "{'from': 0, 'sped': 1, 'at': 2}"), ERR_OK);
    assert_true(json_known_keys(&f.reader, f.root, &speed, known, more));
    json_wrong(&f.reader, &speed, "from", "is %s", "odd");
    json_wrong(&f.reader, NULL, NULL, "is odd");
    done(&f, "event.json: route[3].speeds[1].sped: unknown key\n"
             "event.json: route[3].speeds[1].from: is odd\n"
             "event.json: (the whole file): is odd\n");
}

BEHAVIOUR(what_is_no_object_has_no_keys) {
    static const char *const known[] = {NULL};
    struct fixture f;
    assert_int_equal(read_text(&f, "['a']"), ERR_OK);
    assert_false(json_known_keys(&f.reader, f.root, NULL, known, NULL));
    done(&f, "event.json: (the whole file): must be an object\n");
}

BEHAVIOUR(a_decimal_comma_is_told_as_one) {
    static const char *const texts[] = {"{'speed': 42,5}", "{'speed': -42,5,\n 'b': 1}",
                                        "{'a': 1,\n 'speed': 42,5\n}"};
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        struct fixture f;
        assert_int_equal(read_text(&f, texts[i]), ERR_INPUT);
        assert_int_equal(f.problems.count, 1);
        assert_non_null(strstr(f.problems.list[0].text, "a number is written with a point"));
        json_decref(f.root);
        arena_free(f.arena);
        problems_clear(&f.problems);
    }
}

BEHAVIOUR(a_duplicate_key_is_refused_with_its_line) {
    struct fixture f;
    assert_int_equal(read_text(&f, "{\n'a': 1,\n'a': 2}"), ERR_INPUT);
    assert_int_equal(f.problems.count, 1);
    assert_string_equal(f.problems.list[0].place, "event.json:3");
    assert_non_null(strstr(f.problems.list[0].text, "duplicate object key"));
    json_decref(f.root);
    arena_free(f.arena);
    problems_clear(&f.problems);
}

BEHAVIOUR(malformed_json_is_refused_with_its_line_and_without_our_mark) {
    static const struct {
        const char *text;
        const char *place;
    } rows[] = {
        {"{", "event.json:1"},
        {"{\n\n'a': }", "event.json:3"},
        {"{'a': 01}", "event.json:1"},
        {"{'a': 1.}", "event.json:1"},
        {"{'a': .5}", "event.json:1"},
        {"{'a': +5}", "event.json:1"},
        {"{'a': 5x}", "event.json:1"},
        {"{'a': 1.2.3}", "event.json:1"},
        {"{'a': 1-2}", "event.json:1"},
        {"{'a': -}", "event.json:1"},
        {"{'a': 1 2}", "event.json:1"},
        {"{'a': 1e}", "event.json:1"},
        {"{'a': 0x10}", "event.json:1"},
        {"{'a': NaN}", "event.json:1"},
        {"{'a': Infinity}", "event.json:1"},
        {"{'a': 1,}", "event.json:1"},
        {"{\n'a': 1\n'b': 2}", "event.json:3"},
        {"{'a': 1} trailing", "event.json:1"},
        {"{'a': 1} 5", "event.json:1"},
        {"{'a': 'open", "event.json:1"},
        {"{'a': '\\u0000'}", "event.json:1"},
        {"{'a': '\xFF'}", "event.json:1"},
        {"{5: 1}", "event.json:1"},
        {"5", "event.json:1"},
        {"'text'", "event.json:1"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct fixture f;
        int err = read_text(&f, rows[i].text);
        if (err != ERR_INPUT || f.problems.count != 1 ||
            strcmp(f.problems.list[0].place, rows[i].place) != 0 ||
            strncmp(f.problems.list[0].text, "not well-formed JSON: ", 22) != 0 ||
            strstr(f.problems.list[0].text, "u001f") != NULL ||
            strchr(f.problems.list[0].text, JSON_NUMBER_MARK) != NULL) {
            char *text = problems_text(&f.problems);
            print_message("%s gave %d\n%s", rows[i].text, err, text);
            fail();
        }
        json_decref(f.root);
        arena_free(f.arena);
        problems_clear(&f.problems);
    }
}

BEHAVIOUR(an_empty_file_is_refused) {
    struct fixture f;
    assert_int_equal(read_text(&f, ""), ERR_INPUT);
    assert_int_equal(f.problems.count, 1);
    assert_string_equal(f.problems.list[0].place, "event.json:1");
    arena_free(f.arena);
    problems_clear(&f.problems);
}

BEHAVIOUR(numbers_inside_strings_are_left_alone) {
    struct fixture f;
    const char *out = NULL;
    assert_int_equal(read_text(&f, "{'a': '12.5 km, -3 and \\\\', 'b-1': 'x\\\\\\\\', 'c': 7}"),
                     ERR_OK);
    assert_true(json_get_text(&f.reader, f.root, NULL, "a", true, &out));
    assert_string_equal(out, "12.5 km, -3 and \\");
    assert_true(json_get_text(&f.reader, f.root, NULL, "b-1", true, &out));
    assert_string_equal(out, "x\\\\");
    assert_true(json_is_number_text(json_object_get(f.root, "c")));
    done(&f, "");
}

BEHAVIOUR(a_text_cannot_pass_for_a_number) {
    struct fixture f;
    assert_int_equal(read_text(&f, "{'a': '\\u001f5'}"), ERR_INPUT);
    assert_null(f.root);
    arena_free(f.arena);
    problems_clear(&f.problems);
}

BEHAVIOUR(a_byte_order_mark_is_passed_over) {
    static const char text[] = "\xEF\xBB\xBF{\"a\": 1}";
    struct fixture f;
    assert_int_equal(read_bytes(&f, text, strlen(text)), ERR_OK);
    assert_true(json_is_number_text(json_object_get(f.root, "a")));
    done(&f, "");
}

BEHAVIOUR(a_document_nested_without_end_is_refused) {
    enum { DEEP = 100000 };
    char *text = malloc(DEEP);
    struct fixture f;
    assert_non_null(text);
    memset(text, '[', DEEP);
    assert_int_equal(read_bytes(&f, text, DEEP), ERR_INPUT);
    assert_int_equal(f.problems.count, 1);
    free(text);
    arena_free(f.arena);
    problems_clear(&f.problems);
}

/* `count` times `value` in a list, read; `expected` is what it reports. */
static void check_size(const char *value, int count, int expected) {
    struct problems problems = {0};
    struct json_reader reader = {.file = "body", .arena = arena_new(), .problems = &problems};
    struct textbuf text = {0};
    json_t *root = NULL;
    textbuf_putc(&text, '[');
    for (int i = 0; i < count; i++)
        textbuf_printf(&text, "%s%s", i > 0 ? "," : "", value);
    textbuf_putc(&text, ']');
    assert_int_equal(json_read_text(&reader, textbuf_text(&text), text.len, &root), expected);
    if (expected == ERR_INPUT) {
        assert_int_equal(problems.count, 1);
        assert_string_equal(
            problems.list[0].text,
            "it holds more than 150000 objects and lists, or more than 400000 values");
    }
    json_decref(root);
    textbuf_clear(&text);
    problems_clear(&problems);
    arena_free(reader.arena);
}

/* Signs in texts are none. */
BEHAVIOUR(a_document_holds_so_many_values_at_most) {
    check_size("{}", JSON_CONTAINERS_MAX - 1, ERR_OK);
    check_size("{}", JSON_CONTAINERS_MAX, ERR_INPUT);
    check_size("\"\"", JSON_VALUES_MAX, ERR_OK);
    check_size("1", JSON_VALUES_MAX + 1, ERR_INPUT);
    check_size("\"[{,,,[{\"", JSON_CONTAINERS_MAX, ERR_OK);
}

/* What reading it says, "" where it is read. */
static void check_said(const char *text, size_t len, const char *expected) {
    struct problems problems = {0};
    struct json_reader reader = {.file = "body", .arena = arena_new(), .problems = &problems};
    json_t *root = NULL;
    int err = json_read_text(&reader, text, len, &root);
    assert_int_equal(err, *expected == '\0' ? ERR_OK : ERR_INPUT);
    assert_int_equal(problems.count, err == ERR_OK ? 0 : 1);
    if (err != ERR_OK) {
        assert_string_equal(problems.list[0].place, "body:2");
        assert_string_equal(problems.list[0].text, expected);
    }
    json_decref(root);
    problems_clear(&problems);
    arena_free(reader.arena);
}

static void check_members(int count, const char *expected) {
    struct textbuf text = {0};
    textbuf_puts(&text, "[{\"a\": 1}, 1,\n{\"of\": [1, 2, {}]");
    for (int i = 1; i < count; i++)
        textbuf_printf(&text, ",\"k%d\": {}", i);
    textbuf_puts(&text, "}]");
    check_said(textbuf_text(&text), text.len, expected);
    textbuf_clear(&text);
}

BEHAVIOUR(an_object_holds_so_many_members_at_most) {
    check_members(JSON_MEMBERS_MAX, "");
    check_members(JSON_MEMBERS_MAX + 1, "an object has more than 1000 members");
}

static void check_depth(int depth, const char *expected) {
    struct textbuf text = {0};
    textbuf_putc(&text, '\n');
    for (int i = 0; i < depth; i++)
        textbuf_putc(&text, '[');
    for (int i = 0; i < depth; i++)
        textbuf_putc(&text, ']');
    check_said(textbuf_text(&text), text.len, expected);
    textbuf_clear(&text);
}

BEHAVIOUR(values_stand_so_deep_at_most) {
    check_depth(JSON_DEPTH_MAX, "");
    check_depth(JSON_DEPTH_MAX + 1, "objects and lists stand more than 64 deep in one another");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_keep_their_digits),
        cmocka_unit_test(a_fourth_decimal_is_refused_and_not_lost_on_the_way),
        cmocka_unit_test(a_decimal_may_be_a_text_too),
        cmocka_unit_test(a_decimal_that_is_none_is_told),
        cmocka_unit_test(whole_numbers_are_numbers_and_whole),
        cmocka_unit_test(durations_may_be_numbers_of_seconds_too),
        cmocka_unit_test(texts_are_texts_and_no_numbers),
        cmocka_unit_test(choices_flags_and_lists_are_checked),
        cmocka_unit_test(an_unknown_key_is_told_with_its_whole_path),
        cmocka_unit_test(what_is_no_object_has_no_keys),
        cmocka_unit_test(a_decimal_comma_is_told_as_one),
        cmocka_unit_test(a_duplicate_key_is_refused_with_its_line),
        cmocka_unit_test(malformed_json_is_refused_with_its_line_and_without_our_mark),
        cmocka_unit_test(an_empty_file_is_refused),
        cmocka_unit_test(numbers_inside_strings_are_left_alone),
        cmocka_unit_test(a_text_cannot_pass_for_a_number),
        cmocka_unit_test(a_byte_order_mark_is_passed_over),
        cmocka_unit_test(a_document_nested_without_end_is_refused),
        cmocka_unit_test(a_document_holds_so_many_values_at_most),
        cmocka_unit_test(an_object_holds_so_many_members_at_most),
        cmocka_unit_test(values_stand_so_deep_at_most),
    };
    RUN_BEHAVIOURS(tests);
}
