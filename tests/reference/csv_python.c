/* SPDX-License-Identifier: MIT */
/* Our reader and writer of CSV against Python's csv module (strict) on awkward texts. Both read
 * the same texts; Python's answers come back through a file. */
#include <jansson.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/textbuf.h"
#include "dice.h"
#include "format/csv.h"
#include "testing.h"

enum { RANDOM_TEXTS = 6000, WRITTEN_TEXTS = 1000 };

extern char **environ;

/* What Python makes of the texts: a list like that of the texts. */
static json_t *asked_of_python(const json_t *texts) {
    char folder[] = "/tmp/csv_python.XXXXXX";
    char in[64];
    char out[64];
    pid_t child;
    int status = -1;
    assert_non_null(mkdtemp(folder));
    (void)snprintf(in, sizeof in, "%s/in.json", folder);
    (void)snprintf(out, sizeof out, "%s/out.json", folder);
    assert_int_equal(json_dump_file(texts, in, JSON_ENSURE_ASCII), 0);
    char *arguments[] = {"python3", "tests/reference/csv_rows.py", in, out, NULL};
    assert_int_equal(posix_spawn(&child, "/usr/bin/python3", NULL, NULL, arguments, environ), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    json_t *answers = json_load_file(out, 0, NULL);
    assert_non_null(answers);
    (void)unlink(in);
    (void)unlink(out);
    (void)rmdir(folder);
    assert_int_equal(json_array_size(answers), json_array_size(texts));
    return answers;
}

static void add_text(json_t *texts, const char *text, size_t len, char separator) {
    json_t *entry = json_object();
    assert_int_equal(json_object_set_new(entry, "text", json_stringn(text, len)), 0);
    assert_int_equal(json_object_set_new(entry, "separator", json_stringn(&separator, 1)), 0);
    assert_int_equal(json_array_append_new(texts, entry), 0);
}

/* Our rows up to the first bad one. */
static json_t *our_rows(const char *text, bool *bad) {
    struct csv csv;
    json_t *rows = json_array();
    csv_init(&csv, text, strlen(text));
    enum csv_result result;
    while ((result = csv_next(&csv)) == CSV_ROW) {
        json_t *row = json_array();
        for (size_t i = 0; i < csv.count; i++)
            assert_int_equal(json_array_append_new(row, json_string(csv.fields[i])), 0);
        assert_int_equal(json_array_append_new(rows, row), 0);
    }
    assert_true(result != CSV_NOMEM);
    *bad = result == CSV_BAD;
    csv_clear(&csv);
    return rows;
}

/* Compares all texts with Python's answers. Returns how many were bad to both. */
static int compare(const json_t *texts, const json_t *answers) {
    int refused = 0;
    for (size_t i = 0; i < json_array_size(texts); i++) {
        const json_t *entry = json_array_get(texts, i);
        const json_t *answer = json_array_get(answers, i);
        const char *text = json_string_value(json_object_get(entry, "text"));
        bool bad;
        json_t *ours = our_rows(text, &bad);
        const json_t *theirs = json_object_get(answer, "rows");
        bool theirs_bad = json_is_true(json_object_get(answer, "bad"));
        if (bad != theirs_bad || !json_equal(ours, theirs)) {
            char *us = json_dumps(ours, 0);
            char *them = json_dumps(theirs, 0);
            char *what = json_dumps(entry, 0);
            print_message("%s\nours%s %s\ntheirs%s %s\n", what, bad ? " (bad)" : "", us,
                          theirs_bad ? " (bad)" : "", them);
            free(us);
            free(them);
            free(what);
            fail();
        }
        refused += bad;
        json_decref(ours);
    }
    return refused;
}

BEHAVIOUR(awkward_texts_read_the_same) {
    static const char *const awkward[] = {
        "a,b\n1,2\n",
        "a,b\r\n1,2\r\n",
        "a,b\r1,2\r",
        "a,b\n\n\n1,2\n\n",
        "\xEF\xBB\xBF"
        "a,b\n1,2\n",
        "\xEF\xBB\xBF\"a\",b\n1,2\n",
        "a,b\n\"x\",\"y\"",
        "a,b\n\"x\"\"y\",\"\"\"\"\n",
        "a,b\n\"one\ntwo\",\"three\r\nfour\"\n",
        "a,b\n\"one\rtwo\",x\r",
        "a,b\n,\n",
        "a,b\n\"\",\"\"\n",
        "a,b\n 1 , 2 \n",
        "a,b\n5\" gun,6\n",
        "a,b\n\"x\"y,2\n",
        "a,b\n\"x\" ,2\n",
        "a,b\n\"open,2\n",
        "a,b\n1,\"",
        "a,b\n1,\"\"",
        "a,b\n1,2,3\n1\n",
        "a,b\nGyőr,伊藤\n",
        "a,b\n\t1,\v2\n",
        "a,b\n1,2\n\x1a",
        "\n\r\n\ra,b\n1,2",
        "a,b\n'1,2'\n",
        "a,b\n\\,\\\"\n",
        "",
        "\n",
        "a",
    };
    json_t *texts = json_array();
    for (size_t i = 0; i < COUNT_OF(awkward); i++)
        add_text(texts, awkward[i], strlen(awkward[i]), ',');
    add_text(texts, "a;b\n1,5;2\n", 10, ';');
    add_text(texts, "a;b\n\"1;5\";2\n", 12, ';');
    json_t *answers = asked_of_python(texts);
    assert_int_equal(compare(texts, answers), 4);
    json_decref(answers);
    json_decref(texts);
}

BEHAVIOUR(random_texts_of_awkward_pieces_read_the_same) {
    static const char *const pieces[] = {"\"", "\"",   "\"\"", ",",   ",", ";", "\n", "\r\n",
                                         "\r", " ",    "x",    "yz",  "é", "'", "\t", "\"a\"",
                                         "1",  "\"\n", ",\"",  "\",", "=", "|"};
    struct dice dice = {13000};
    json_t *texts = json_array();
    for (int n = 0; n < RANDOM_TEXTS; n++) {
        struct textbuf text = {0};
        bool semicolon = dice_below(&dice, 3) == 0;
        size_t count = dice_below(&dice, 24);
        if (dice_below(&dice, 8) == 0)
            textbuf_puts(&text, "\xEF\xBB\xBF");
        textbuf_puts(&text, semicolon ? "h1;h2\n" : "h1,h2\n");
        for (size_t i = 0; i < count; i++)
            textbuf_puts(&text, pieces[dice_below(&dice, COUNT_OF(pieces))]);
        add_text(texts, text.bytes, text.len, semicolon ? ';' : ',');
        textbuf_clear(&text);
    }
    json_t *answers = asked_of_python(texts);
    int refused = compare(texts, answers);
    /* both sorts came up often */
    assert_in_range(refused, RANDOM_TEXTS / 10, RANDOM_TEXTS * 9 / 10);
    json_decref(answers);
    json_decref(texts);
}

BEHAVIOUR(python_reads_back_what_we_write) {
    static const char *const pieces[] = {"\"", ",", ";", "\n", "\r", " ", "x", "é", "'", "\t"};
    struct dice dice = {70};
    json_t *texts = json_array();
    json_t *expected = json_array();
    for (int n = 0; n < WRITTEN_TEXTS; n++) {
        struct textbuf text = {0};
        json_t *row = json_array();
        textbuf_puts(&text, "h1,h2,h3\n");
        for (int f = 0; f < 3; f++) {
            struct textbuf field = {0};
            size_t count = dice_below(&dice, 6);
            textbuf_puts(&field, "");
            for (size_t i = 0; i < count; i++)
                textbuf_puts(&field, pieces[dice_below(&dice, COUNT_OF(pieces))]);
            if (f > 0)
                textbuf_putc(&text, ',');
            csv_write_field(&text, field.bytes);
            assert_int_equal(json_array_append_new(row, json_string(field.bytes)), 0);
            textbuf_clear(&field);
        }
        textbuf_putc(&text, '\n');
        add_text(texts, text.bytes, text.len, ',');
        assert_int_equal(json_array_append_new(expected, row), 0);
        textbuf_clear(&text);
    }
    json_t *answers = asked_of_python(texts);
    assert_int_equal(compare(texts, answers), 0);
    for (size_t i = 0; i < WRITTEN_TEXTS; i++) {
        const json_t *rows = json_object_get(json_array_get(answers, i), "rows");
        assert_int_equal(json_array_size(rows), 2);
        assert_true(json_equal(json_array_get(rows, 1), json_array_get(expected, i)));
    }
    json_decref(answers);
    json_decref(texts);
    json_decref(expected);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(awkward_texts_read_the_same),
        cmocka_unit_test(random_texts_of_awkward_pieces_read_the_same),
        cmocka_unit_test(python_reads_back_what_we_write),
    };
    RUN_BEHAVIOURS(tests);
}
