/* SPDX-License-Identifier: MIT */
#include "format/json_tidy.h"

#include "base/textbuf.h"
#include "format/json_read.h"

/* Characters of a line, so that most items of a route fit on one. */
enum { LINE_WIDTH = 140, INDENT = 2 };

static void write_string(struct textbuf *b, const char *text) {
    textbuf_putc(b, '"');
    for (const char *p = text; *p != '\0'; p++) {
        unsigned char c = (unsigned char)*p;
        if (c == '"' || c == '\\')
            textbuf_putc(b, '\\');
        if (c < 0x20)
            textbuf_printf(b, "\\u%04x", c);
        else
            textbuf_putc(b, *p);
    }
    textbuf_putc(b, '"');
}

static void write_plain(struct textbuf *b, const json_t *value) {
    if (json_is_number_text(value))
        textbuf_puts(b, json_string_value(value) + 1);
    else if (json_is_string(value))
        write_string(b, json_string_value(value));
    else
        textbuf_puts(b, json_is_true(value) ? "true" : json_is_false(value) ? "false" : "null");
}

static void new_line(struct textbuf *b, int depth) {
    textbuf_printf(b, "\n%*s", depth * INDENT, "");
}

static void write_value(struct textbuf *b, const json_t *value, int depth, bool broken);

/* On one line where that fits behind the `used` columns of it, else its members on a line each. */
static void write_fitting(struct textbuf *b, const json_t *value, int depth, size_t used) {
    struct textbuf line = {0};
    write_value(&line, value, depth, false);
    if (used + line.len <= LINE_WIDTH || (!json_is_object(value) && !json_is_array(value)))
        textbuf_puts(b, textbuf_text(&line));
    else
        write_value(b, value, depth, true);
    b->failed = b->failed || line.failed;
    textbuf_clear(&line);
}

/* One member or element, behind a comma where it is not the first. */
static void write_member(struct textbuf *b, const char *key, const json_t *value, int depth,
                         bool broken, bool first) {
    if (!first)
        textbuf_puts(b, broken ? "," : ", ");
    size_t from = b->len;
    if (broken)
        new_line(b, depth + 1);
    if (key != NULL) {
        write_string(b, key);
        textbuf_puts(b, ": ");
    }
    if (broken)
        write_fitting(b, value, depth + 1, b->len - from);
    else
        write_value(b, value, depth + 1, false);
}

static void write_value(struct textbuf *b, const json_t *value, int depth, bool broken) {
    bool is_object = json_is_object(value);
    if (!is_object && !json_is_array(value)) {
        write_plain(b, value);
        return;
    }
    bool first = true;
    textbuf_putc(b, is_object ? '{' : '[');
    if (is_object) {
        const char *key;
        json_t *member;
        json_object_foreach((json_t *)value, key, member) {
            write_member(b, key, member, depth, broken, first);
            first = false;
        }
    } else {
        for (size_t i = 0; i < json_array_size(value); i++) {
            write_member(b, NULL, json_array_get(value, i), depth, broken, first);
            first = false;
        }
    }
    if (broken && !first)
        new_line(b, depth);
    textbuf_putc(b, is_object ? '}' : ']');
}

void json_tidy(const json_t *root, struct textbuf *b) {
    /* The document itself is always broken into lines: one key each. */
    write_value(b, root, 0, true);
    textbuf_putc(b, '\n');
}
