/* SPDX-License-Identifier: MIT */
/* Rows of awkward CSV texts against Python's csv module, strict.
 * Reference: the csv module of CPython 3.11 (Debian's python3). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "csv.h"
#include "dice.h"
#include "textbuf.h"

enum { TEXTS = 300 };

static char folder[] = "/tmp/cairn-csv-XXXXXX";
static char path[64];

/* Reads every file of rows with Python and prints them as JSON; blank lines are no rows. */
static const char script[] =
    "import csv, json, sys\n"
    "out = []\n"
    "for text in json.load(open(sys.argv[1], encoding='utf-8')):\n"
    "    rows = csv.reader(__import__('io').StringIO(text, newline=''), strict=True)\n"
    "    out.append([row for row in rows if row])\n"
    "json.dump(out, sys.stdout)\n";

/* A text of one to five rows of fields that need quotes or look as if they did. */
static void write_text(struct dice *dice, struct textbuf *b) {
    static const char *const fields[] = {
        "plain", "",       " blank ", "a,b", "say \"hi\"", "two\nlines", "ünï",  "=1+1", "\"",
        "a;b",   "cr\rlf", "'",       "1.5", "\ttab",      "x\r\ny",     "日本", "\"\"", ","};
    static const char *const ends[] = {"\n", "\r\n", "\n\n"};
    size_t columns = 1 + dice_below(dice, 4);
    size_t rows = 1 + dice_below(dice, 5);
    const char *end = ends[dice_below(dice, 3)];
    for (size_t r = 0; r < rows; r++) {
        textbuf_printf(b, "head%zu", r);
        for (size_t c = 0; c < columns; c++) {
            textbuf_putc(b, ',');
            csv_write_field(b, fields[dice_below(dice, sizeof fields / sizeof fields[0])]);
        }
        if (r + 1 < rows || dice_below(dice, 2) == 0)
            textbuf_puts(b, end);
    }
}

static json_t *rows_of_ours(const char *text, size_t len) {
    struct csv csv;
    json_t *rows = json_array();
    csv_init(&csv, text, len);
    enum csv_result result;
    while ((result = csv_next(&csv)) == CSV_ROW) {
        json_t *row = json_array();
        for (size_t i = 0; i < csv.count; i++)
            assert_int_equal(json_array_append_new(row, json_string(csv.fields[i])), 0);
        assert_int_equal(json_array_append_new(rows, row), 0);
    }
    assert_int_equal(result, CSV_END);
    csv_clear(&csv);
    return rows;
}

static json_t *rows_of_python(const json_t *texts) {
    char command[256];
    char file[96];
    (void)snprintf(file, sizeof file, "%s/rows.py", folder);
    FILE *f = fopen(file, "w");
    assert_non_null(f);
    assert_true(fputs(script, f) >= 0);
    assert_int_equal(fclose(f), 0);
    assert_int_equal(json_dump_file(texts, path, 0), 0);
    (void)snprintf(command, sizeof command, "/usr/bin/python3 %s %s", file, path);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    json_t *rows = json_loadf(pipe, 0, NULL);
    assert_int_equal(pclose(pipe), 0);
    assert_int_equal(unlink(file), 0);
    return rows;
}

static void awkward_texts_give_the_rows_that_python_reads(void **state) {
    struct dice dice = {1904};
    json_t *texts = json_array();
    (void)state;
    for (int i = 0; i < TEXTS; i++) {
        struct textbuf b = {0};
        write_text(&dice, &b);
        assert_int_equal(json_array_append_new(texts, json_stringn(b.bytes, b.len)), 0);
        textbuf_clear(&b);
    }
    json_t *theirs = rows_of_python(texts);
    assert_int_equal(json_array_size(theirs), TEXTS);
    for (size_t i = 0; i < TEXTS; i++) {
        const json_t *text = json_array_get(texts, i);
        json_t *ours = rows_of_ours(json_string_value(text), json_string_length(text));
        if (!json_equal(ours, json_array_get(theirs, i)))
            fail_msg("rows differ for: %s", json_string_value(text));
        json_decref(ours);
    }
    json_decref(theirs);
    json_decref(texts);
}

static int make_folder(void **state) {
    (void)state;
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/texts.json", folder);
    return 0;
}

static int remove_folder(void **state) {
    (void)state;
    (void)unlink(path);
    return rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(awkward_texts_give_the_rows_that_python_reads),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
