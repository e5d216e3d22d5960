/* SPDX-License-Identifier: MIT */
#include "format/json_write.h"

#include <string.h>

#include "base/decimal.h"
#include "base/textbuf.h"
#include "base/times.h"

/* Behind the last byte of a value or member comes a comma: a text ends with a quote, a number with
 * a digit, a word with a letter, an object or array with its bracket. */
static const bool ends_value[256] = {
    ['"'] = true, ['}'] = true, [']'] = true, ['0' ... '9'] = true, ['a' ... 'z'] = true};

/* Characters that have to be escaped in a text, and the NUL that ends it. */
static const bool is_escaped[256] = {
    [0 ... 0x1f] = true, ['"'] = true, ['\\'] = true, ['<'] = true, ['>'] = true, ['&'] = true};

static bool comma_is_due(const struct textbuf *b) {
    return b->len > 0 && ends_value[(unsigned char)b->bytes[b->len - 1]];
}

/* Appends `len` bytes, behind a comma where one is due. All that is short is written by this: one
 * check of the capacity for each piece. */
static void put(struct textbuf *b, const char *bytes, size_t len) {
    if (!textbuf_reserve(b, len + 1))
        return;
    if (comma_is_due(b))
        b->bytes[b->len++] = ',';
    memcpy(b->bytes + b->len, bytes, len);
    b->len += len;
    b->bytes[b->len] = '\0';
}

static size_t plain_length(const char *text) {
    size_t len = 0;
    while (!is_escaped[(unsigned char)text[len]])
        len++;
    return len;
}

static const char hex[] = "0123456789abcdef";

static void escape(struct textbuf *b, char c) {
    unsigned code = (unsigned char)c;
    if (c == '"' || c == '\\')
        textbuf_add(b, (char[]){'\\', c}, 2);
    else
        textbuf_add(b, (char[]){'\\', 'u', '0', '0', hex[code >> 4], hex[code & 15]}, 6);
}

/* The rest of a text, from a byte on that is escaped or its end. */
static void write_escaped(struct textbuf *b, const char *text) {
    while (*text != '\0') {
        escape(b, *text++);
        size_t len = plain_length(text);
        textbuf_add(b, text, len);
        text += len;
    }
}

/* A text in quotes with `end` behind it: the quote alone, or that and the colon of a key. */
static void write_quoted(struct textbuf *b, const char *text, const char *end, size_t end_len) {
    size_t plain = plain_length(text);
    if (!textbuf_reserve(b, plain + 2 + end_len))
        return;
    char *at = b->bytes + b->len;
    if (comma_is_due(b))
        *at++ = ',';
    *at++ = '"';
    memcpy(at, text, plain);
    b->len = (size_t)(at + plain - b->bytes);
    b->bytes[b->len] = '\0';
    if (text[plain] != '\0')
        write_escaped(b, text + plain);
    textbuf_add(b, end, end_len);
}

size_t json_open_text(struct textbuf *b) {
    put(b, "\"", 1);
    return b->len;
}

void json_close_text(struct textbuf *b, size_t from) {
    size_t plain = b->failed ? 0 : plain_length(b->bytes + from);
    if (!b->failed && from + plain < b->len) {
        struct textbuf rest = {0};
        textbuf_add(&rest, b->bytes + from + plain, b->len - from - plain);
        b->len = from + plain;
        b->bytes[b->len] = '\0';
        b->failed = rest.failed;
        write_escaped(b, textbuf_text(&rest));
        textbuf_clear(&rest);
    }
    textbuf_putc(b, '"');
}

void json_write_text(struct textbuf *b, const char *text) {
    write_quoted(b, text, "\"", 1);
}

void json_write_int(struct textbuf *b, int64_t value) {
    put(b, "", 0);
    textbuf_int(b, value);
}

void json_write_bool(struct textbuf *b, bool value) {
    if (value)
        put(b, "true", 4);
    else
        put(b, "false", 5);
}

void json_write_null(struct textbuf *b) {
    put(b, "null", 4);
}

void json_write_decimal(struct textbuf *b, int64_t thousandths) {
    put(b, "\"", 1);
    decimal_write(b, thousandths);
    textbuf_putc(b, '"');
}

void json_write_time(struct textbuf *b, int64_t ms, int decimals) {
    if (ms == TIME_NONE) {
        json_write_null(b);
        return;
    }
    put(b, "\"", 1);
    time_write(b, ms, decimals);
    textbuf_putc(b, '"');
}

void json_write_raw(struct textbuf *b, const char *json, size_t len) {
    if (len > 0)
        put(b, json, len);
}

void json_open_object(struct textbuf *b) {
    put(b, "{", 1);
}

void json_close_object(struct textbuf *b) {
    textbuf_putc(b, '}');
}

void json_open_array(struct textbuf *b) {
    put(b, "[", 1);
}

void json_close_array(struct textbuf *b) {
    textbuf_putc(b, ']');
}

void json_close_document(struct textbuf *b) {
    textbuf_puts(b, "}\n");
}

void json_line(struct textbuf *b) {
    put(b, "\n", 1);
}

void json_key(struct textbuf *b, const char *key) {
    write_quoted(b, key, "\":", 2);
}

void json_member_text(struct textbuf *b, const char *key, const char *text) {
    json_key(b, key);
    json_write_text(b, text);
}

void json_member_int(struct textbuf *b, const char *key, int64_t value) {
    json_key(b, key);
    json_write_int(b, value);
}

void json_member_bool(struct textbuf *b, const char *key, bool value) {
    json_key(b, key);
    json_write_bool(b, value);
}

void json_member_null(struct textbuf *b, const char *key) {
    json_key(b, key);
    json_write_null(b);
}

void json_member_decimal(struct textbuf *b, const char *key, int64_t thousandths) {
    json_key(b, key);
    json_write_decimal(b, thousandths);
}

void json_member_time(struct textbuf *b, const char *key, int64_t ms, int decimals) {
    json_key(b, key);
    json_write_time(b, ms, decimals);
}

void json_member_hex(struct textbuf *b, const char *key, const unsigned char *bytes, size_t len) {
    json_key(b, key);
    put(b, "\"", 1);
    for (size_t i = 0; i < len; i++)
        textbuf_add(b, (char[]){hex[bytes[i] >> 4], hex[bytes[i] & 15]}, 2);
    textbuf_putc(b, '"');
}

void json_member_text_or_null(struct textbuf *b, const char *key, const char *text) {
    if (text == NULL)
        json_member_null(b, key);
    else
        json_member_text(b, key, text);
}

void json_member_positive(struct textbuf *b, const char *key, int64_t value) {
    if (value > 0)
        json_member_int(b, key, value);
    else
        json_member_null(b, key);
}

void json_member_object(struct textbuf *b, const char *key) {
    json_key(b, key);
    json_open_object(b);
}

void json_member_array(struct textbuf *b, const char *key) {
    json_key(b, key);
    json_open_array(b);
}
