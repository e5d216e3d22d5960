/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "pages/table.h"
#include "system/assets.h"

static struct page page;

static const char *const tables[] = {
#define TABLE(name) name,
#define COLUMN(key, words, class)
#define OPTIONAL(key, words, class)
#include "pages/columns.def"
#undef TABLE
#undef COLUMN
#undef OPTIONAL
};
enum { TABLES = sizeof tables / sizeof tables[0] };

static int begin(void **state) {
    (void)state;
    page = (struct page){.lang = LANG_EN};
    return words_load();
}

static int end(void **state) {
    (void)state;
    textbuf_clear(&page.m);
    words_unload();
    return 0;
}

/* ---- the lists ---- */

static void a_table_has_columns_of_different_keys(void **state) {
    (void)state;
    assert_true(TABLES > 10);
    for (int i = 0; i < TABLES; i++) {
        const struct table_column *first = columns_of(tables[i]);
        const struct table_column *c = first;
        assert_non_null(first);
        for (; c->words != NULL; c++) {
            for (const struct table_column *other = first; other < c; other++)
                assert_string_not_equal(c->key, other->key);
        }
        assert_in_range(c - first, 1, TABLE_COLUMNS_MAX);
    }
    assert_null(columns_of("nothing"));
    assert_null(columns_of(""));
}

/* Other languages have the words that English has: see test_words. */
static void each_heading_is_a_word(void **state) {
    const struct asset *asset = asset_find("web/words/board.en.json");
    (void)state;
    assert_non_null(asset);
    json_t *catalogue = json_loadb(asset->bytes, (size_t)(asset->end - asset->bytes), 0, NULL);
    for (int i = 0; i < TABLES; i++) {
        for (const struct table_column *c = columns_of(tables[i]); c->words != NULL; c++) {
            if (json_object_get(catalogue, c->words) == NULL)
                fail_msg("%s: no word “%s”", tables[i], c->words);
            assert_true(*c->class == '\0' || strcmp(c->class, "n") == 0);
        }
    }
    json_decref(catalogue);
}

/* ---- a table follows its list ---- */

static const int *of(const struct table_row *row) {
    return row->of;
}

static void write_point(struct page *p, const struct table_row *row) {
    textbuf_printf(&p->m, "<th>point %d</th>", *of(row));
}

static void write_kind(struct page *p, const struct table_row *row) {
    textbuf_printf(&p->m, "<td>kind %d</td>", *of(row));
}

static void write_distance(struct page *p, const struct table_row *row) {
    textbuf_printf(&p->m, "<td>%d km of car %d</td>", *of(row), row->car);
}

static void head_and_rows_are_in_the_order_of_the_list(void **state) {
    /* Given in another order. */
    static const struct table_cell cells[] = {{"distance", .write = write_distance},
                                              {"point", .write = write_point},
                                              {"kind", .write = write_kind},
                                              {.key = NULL}};
    struct table t;
    int seven = 7;
    (void)state;
    table_begin(&t, &page, "route", "route small", caption_text("Day 1 & <2>"), cells);
    textbuf_puts(&page.m, "<tr>");
    table_cells(&t, 22, &seven);
    table_end(&page);
    assert_false(page.m.failed);
    char wanted[512];
    (void)snprintf(wanted, sizeof wanted,
                   "<div class=\"scroll\"><table class=\"route small\">\n"
                   "<caption>Day 1 &amp; &lt;2&gt;</caption>\n"
                   "<thead><tr><th scope=\"col\">%s</th><th scope=\"col\">%s</th>"
                   "<th scope=\"col\" class=\"n\">%s</th></tr></thead>\n<tbody>\n"
                   "<tr><th>point 7</th><td>kind 7</td><td>7 km of car 22</td></tr>\n"
                   "</tbody>\n</table></div>\n",
                   word(LANG_EN, "point"), word(LANG_EN, "kind"), word(LANG_EN, "km"));
    assert_string_equal(textbuf_text(&page.m), wanted);
}

static void put_caption(struct page *p, const void *of) {
    textbuf_printf(&p->m, "<b>%s</b>", (const char *)of);
}

/* Only what is named markup is not escaped. */
static void a_caption_may_be_markup(void **state) {
    static const struct table_cell cells[] = {{"point", .write = write_point},
                                              {"kind", .write = write_kind},
                                              {"distance", .write = write_distance},
                                              {.key = NULL}};
    struct table t;
    (void)state;
    table_begin(&t, &page, "route", "route", caption_markup((struct markup){put_caption, "Day 1"}),
                cells);
    assert_non_null(strstr(textbuf_text(&page.m), "<caption><b>Day 1</b></caption>"));
    assert_false(page.m.failed);
}

static void a_column_may_have_other_words(void **state) {
    static const struct table_cell cells[] = {
        {"point", .write = write_point},
        {"kind", .write = write_kind},
        {"distance", .write = write_distance, .words = "miles"},
        {.key = NULL}};
    struct table t;
    (void)state;
    table_begin(&t, &page, "route", "route", caption_text(""), cells);
    assert_non_null(strstr(textbuf_text(&page.m), word(LANG_EN, "miles")));
    assert_null(strstr(textbuf_text(&page.m), "km"));
    assert_false(page.m.failed);
}

static void an_optional_column_may_be_left_out(void **state) {
    struct table_cell cells[] = {{"car", .write = write_kind},
                                 {"crew", .write = write_point},
                                 {"place", .write = write_kind},
                                 {"penalty", .write = write_kind},
                                 {"to-best", .write = write_kind},
                                 {"remove", .write = NULL},
                                 {.key = NULL}};
    struct table t;
    int three = 3;
    (void)state;
    table_begin(&t, &page, "versus", "versus", caption_text(""), cells);
    assert_null(strstr(textbuf_text(&page.m), word(LANG_EN, "remove-head")));
    textbuf_reset(&page.m);
    table_cells(&t, -1, &three);
    assert_string_equal(textbuf_text(&page.m), "<td>kind 3</td><th>point 3</th><td>kind 3</td>"
                                               "<td>kind 3</td><td>kind 3</td></tr>\n");
    textbuf_reset(&page.m);
    cells[5].write = write_distance;
    table_begin(&t, &page, "versus", "versus", caption_text(""), cells);
    assert_non_null(strstr(textbuf_text(&page.m), word(LANG_EN, "remove-head")));
    assert_false(page.m.failed);
}

static void no_other_column_may_be_left_out(void **state) {
    static const struct table_cell cells[] = {{"point", .write = write_point},
                                              {"kind", .write = write_kind},
                                              {"distance", .write = NULL},
                                              {.key = NULL}};
    struct table t;
    (void)state;
    table_begin(&t, &page, "route", "route", caption_text(""), cells);
    assert_true(page.m.failed);
}

static void a_column_without_a_cell_fails_the_page(void **state) {
    static const struct table_cell cells[] = {
        {"point", .write = write_point}, {"kind", .write = write_kind}, {.key = NULL}};
    struct table t;
    (void)state;
    table_begin(&t, &page, "route", "route", caption_text(""), cells);
    assert_true(page.m.failed);
}

static void a_table_that_is_not_listed_fails_the_page(void **state) {
    static const struct table_cell cells[] = {{"point", .write = write_point}, {.key = NULL}};
    struct table t;
    (void)state;
    table_begin(&t, &page, "roads", "roads", caption_text(""), cells);
    assert_true(page.m.failed);
}

static void a_shared_place_has_its_sign(void **state) {
    (void)state;
    cell_place(&page, 3, false);
    cell_place(&page, 12, true);
    assert_string_equal(textbuf_text(&page.m), "<td>3</td><td>=12</td>");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_table_has_columns_of_different_keys, begin, end),
        cmocka_unit_test_setup_teardown(each_heading_is_a_word, begin, end),
        cmocka_unit_test_setup_teardown(head_and_rows_are_in_the_order_of_the_list, begin, end),
        cmocka_unit_test_setup_teardown(a_caption_may_be_markup, begin, end),
        cmocka_unit_test_setup_teardown(a_column_may_have_other_words, begin, end),
        cmocka_unit_test_setup_teardown(an_optional_column_may_be_left_out, begin, end),
        cmocka_unit_test_setup_teardown(no_other_column_may_be_left_out, begin, end),
        cmocka_unit_test_setup_teardown(a_column_without_a_cell_fails_the_page, begin, end),
        cmocka_unit_test_setup_teardown(a_table_that_is_not_listed_fails_the_page, begin, end),
        cmocka_unit_test_setup_teardown(a_shared_place_has_its_sign, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
