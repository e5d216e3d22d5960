/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "base/textbuf.h"
#include "paper/paper.h"
#include "paper/paper_pack.h"

static struct paper_doc *sample(void) {
    static const struct paper_column columns[] = {{.head = "Car", .right = true, .width = 22},
                                                  {.head = "Crew", .share = 3},
                                                  {.head = "Code", .large = true},
                                                  {.head = "Remarks", .box = true, .width = 110}};
    struct paper_doc *doc = paper_new(&(struct paper_head){.event = "Gannet Trial",
                                                           .title = "Starts — day 1",
                                                           .state = "",
                                                           .origin = "Published now",
                                                           .hash = "00ff",
                                                           .address = "https://x.example/g/",
                                                           .made_ms = 1234567890123});
    assert_non_null(doc);
    paper_heading(doc, "Day 1");
    paper_text(doc, "Two\nlines");
    paper_table(doc, columns, 4, 16);
    for (int i = 0; i < 40; i++)
        paper_cell(doc, i % 3 == 0 ? "" : "Æ. Ødegård");
    paper_code(doc, "https://x.example/g/control#abc", "Scan it,\nor type it");
    paper_pair(doc, "Enter", "The number first");
    paper_page(doc);
    paper_heading(doc, "The end");
    return doc;
}

static struct textbuf packed(const struct paper_doc *doc) {
    struct textbuf b = {0};
    paper_pack(doc, &b);
    assert_false(b.failed);
    return b;
}

static void what_is_unpacked_is_what_was_packed(void **state) {
    (void)state;
    struct paper_doc *doc = sample();
    struct textbuf first = packed(doc);
    struct paper_doc *again = paper_unpack(first.bytes, first.len);
    assert_non_null(again);
    struct textbuf second = packed(again);
    assert_int_equal(first.len, second.len);
    assert_memory_equal(first.bytes, second.bytes, first.len);
    paper_free(doc);
    paper_free(again);
    textbuf_clear(&first);
    textbuf_clear(&second);
}

/* Each in a block of its own size, so that a sanitizer sees a byte too far. */
static void what_is_cut_short_is_no_document(void **state) {
    (void)state;
    struct paper_doc *doc = sample();
    struct textbuf b = packed(doc);
    for (size_t len = 0; len < b.len; len++) {
        char *part = malloc(len + (len == 0));
        assert_non_null(part);
        memcpy(part, b.bytes, len);
        assert_null(paper_unpack(part, len));
        free(part);
    }
    textbuf_putc(&b, 'x');
    assert_null(paper_unpack(b.bytes, b.len));
    paper_free(doc);
    textbuf_clear(&b);
}

/* Whatever it is, it is read without harm; most of it is refused. */
static void what_is_changed_does_no_harm(void **state) {
    int refused = 0;
    (void)state;
    struct paper_doc *doc = sample();
    struct textbuf b = packed(doc);
    for (size_t i = 0; i < b.len; i++) {
        char was = b.bytes[i];
        b.bytes[i] = (char)(was ^ 0x80);
        struct paper_doc *read = paper_unpack(b.bytes, b.len);
        refused += read == NULL;
        paper_free(read);
        b.bytes[i] = was;
    }
    assert_true(refused > (int)b.len / 2);
    paper_free(doc);
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_unpacked_is_what_was_packed),
        cmocka_unit_test(what_is_cut_short_is_no_document),
        cmocka_unit_test(what_is_changed_does_no_harm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
