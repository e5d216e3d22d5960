/* SPDX-License-Identifier: MIT */
#include "format/json_tidy.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event_text.h"
#include "format/json_read.h"
#include "testing.h"

/* Of a line with its end. */
enum { WIDTH = 140 };

/* A document that must be good, for json_decref. */
static json_t *document(const char *text) {
    struct problems problems = {0};
    struct arena *arena = arena_new();
    json_t *root = NULL;
    assert_non_null(arena);
    const struct json_reader reader = {.file = "event.json", .arena = arena, .problems = &problems};
    assert_int_equal(json_read_text(&reader, text, strlen(text), &root), ERR_OK);
    problems_clear(&problems);
    arena_free(arena);
    return root;
}

/* The document laid out; the caller frees it. */
static char *tidied(const char *text) {
    json_t *root = document(text);
    struct textbuf b = {0};
    json_tidy(root, &b);
    json_decref(root);
    assert_false(b.failed);
    return b.bytes;
}

/* Both may be written with ' for ". */
static void check(const char *text, const char *expected) {
    char *json = quoted(text);
    char *told = tidied(json);
    char *wanted = quoted(expected);
    assert_string_equal(told, wanted);
    free(wanted);
    free(told);
    free(json);
}

BEHAVIOUR(each_key_of_the_document_has_a_line_of_its_own) {
    check("{'name':'Fell Trial','days':[{'date':'2027-05-20'},{'date':'2027-05-21'}],'open':true}",
          "{\n"
          "  'name': 'Fell Trial',\n"
          "  'days': [{'date': '2027-05-20'}, {'date': '2027-05-21'}],\n"
          "  'open': true\n"
          "}\n");
    check("[1,\n [2,3]]", "[\n  1,\n  [2, 3]\n]\n");
}

BEHAVIOUR(keys_keep_their_order) {
    check("{'z': 1, 'a': 2, 'm': {'b': 1, 'a': 2}}",
          "{\n  'z': 1,\n  'a': 2,\n  'm': {'b': 1, 'a': 2}\n}\n");
}

BEHAVIOUR(numbers_have_the_digits_that_they_were_written_with) {
    check("[5.370, 1e3, -0.0, 100000000000000000000000.5, 12]",
          "[\n  5.370,\n  1e3,\n  -0.0,\n  100000000000000000000000.5,\n  12\n]\n");
    check("{'text': '5.370'}", "{\n  'text': '5.370'\n}\n");
}

BEHAVIOUR(words_and_empty_things_stay_what_they_are) {
    check("{'a': true, 'b': false, 'c': null, 'd': {}, 'e': [], 'f': ''}",
          "{\n  'a': true,\n  'b': false,\n  'c': null,\n  'd': {},\n  'e': [],\n  'f': ''\n}\n");
    check("{}", "{}\n");
    check("[]", "[]\n");
}

BEHAVIOUR(texts_are_escaped_where_json_asks_and_nowhere_else) {
    char *told =
        tidied("{\"a \\\"key\\\"\": \"back \\\\ slash, line\\nend, \\u0001, \\u00e9 and /\"}");
    assert_string_equal(
        told, "{\n  \"a \\\"key\\\"\": \"back \\\\ slash, line\\u000aend, \\u0001, é and /\"\n}\n");
    free(told);
}

/* An object under one key, whose line has so many columns. */
static void make_line(struct textbuf *b, size_t columns) {
    static const char frame[] = "  \"k\": {\"text\": \"\"}";
    textbuf_puts(b, "{\"k\": {\"text\": \"");
    for (size_t i = sizeof frame - 1; i < columns; i++)
        textbuf_putc(b, 'x');
    textbuf_puts(b, "\"}}");
}

static size_t lines(const char *text) {
    size_t count = 0;
    for (const char *c = text; *c != '\0'; c++)
        count += *c == '\n';
    return count;
}

BEHAVIOUR(what_fits_on_a_line_stands_on_one) {
    struct textbuf b = {0};
    make_line(&b, WIDTH - 1);
    char *told = tidied(textbuf_text(&b));
    assert_int_equal(lines(told), 3);
    free(told);
    textbuf_reset(&b);
    make_line(&b, WIDTH);
    told = tidied(textbuf_text(&b));
    assert_int_equal(lines(told), 5);
    assert_non_null(strstr(told, "\n  \"k\": {\n    \"text\": \"x"));
    assert_non_null(strstr(told, "x\"\n  }\n}\n"));
    free(told);
    textbuf_clear(&b);
}

/* A list of objects, each of which fits though the list does not. */
BEHAVIOUR(what_does_not_fit_is_broken_one_level_at_a_time) {
    struct textbuf b = {0};
    textbuf_puts(&b, "{\"route\": [");
    for (int i = 1; i <= 4; i++)
        textbuf_printf(&b, "%s{\"id\": \"TC%d\", \"kind\": \"time-control\", \"target\": 45.50}",
                       i > 1 ? ", " : "", i);
    textbuf_puts(&b, "]}");
    char *told = tidied(textbuf_text(&b));
    check(told, "{\n"
                "  'route': [\n"
                "    {'id': 'TC1', 'kind': 'time-control', 'target': 45.50},\n"
                "    {'id': 'TC2', 'kind': 'time-control', 'target': 45.50},\n"
                "    {'id': 'TC3', 'kind': 'time-control', 'target': 45.50},\n"
                "    {'id': 'TC4', 'kind': 'time-control', 'target': 45.50}\n"
                "  ]\n"
                "}\n");
    free(told);
    textbuf_clear(&b);
}

BEHAVIOUR(what_is_laid_out_reads_as_the_same_document) {
    char *json =
        quoted("{'a': [1.50, {'b': ['x', null, true], 'c': '\\n\\u20ac'}], 'd': {'e': -2}}");
    char *told = tidied(json);
    json_t *before = document(json);
    json_t *after = document(told);
    assert_true(json_equal(before, after));
    char *again = tidied(told);
    assert_string_equal(again, told);
    json_decref(before);
    json_decref(after);
    free(again);
    free(told);
    free(json);
}

/* A number that a program puts in is a text with the mark. */
BEHAVIOUR(a_document_may_be_changed_before_it_is_written) {
    static const char number[] = {JSON_NUMBER_MARK, '4', '2', '\0'};
    json_t *root = document("{\"year\": 2026, \"name\": \"Fell\"}");
    struct textbuf b = {0};
    assert_int_equal(json_object_set_new(root, "year", json_string(number)), 0);
    json_tidy(root, &b);
    assert_string_equal(textbuf_text(&b), "{\n  \"year\": 42,\n  \"name\": \"Fell\"\n}\n");
    textbuf_clear(&b);
    json_decref(root);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_key_of_the_document_has_a_line_of_its_own),
        cmocka_unit_test(keys_keep_their_order),
        cmocka_unit_test(numbers_have_the_digits_that_they_were_written_with),
        cmocka_unit_test(words_and_empty_things_stay_what_they_are),
        cmocka_unit_test(texts_are_escaped_where_json_asks_and_nowhere_else),
        cmocka_unit_test(what_fits_on_a_line_stands_on_one),
        cmocka_unit_test(what_does_not_fit_is_broken_one_level_at_a_time),
        cmocka_unit_test(what_is_laid_out_reads_as_the_same_document),
        cmocka_unit_test(a_document_may_be_changed_before_it_is_written),
    };
    RUN_BEHAVIOURS(tests);
}
