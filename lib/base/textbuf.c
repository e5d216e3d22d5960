/* SPDX-License-Identifier: MIT */
#include "base/textbuf.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/utf8.h"

void textbuf_clear(struct textbuf *b) {
    free(b->bytes);
    *b = (struct textbuf){0};
}

void textbuf_reset(struct textbuf *b) {
    b->len = 0;
    if (b->bytes != NULL)
        b->bytes[0] = '\0';
}

bool textbuf_reserve(struct textbuf *b, size_t more) {
    if (b->failed)
        return false;
    if (more < b->cap - b->len && b->bytes != NULL)
        return true;
    if (more > SIZE_MAX - b->len - 1) {
        b->failed = true;
        return false;
    }
    char *moved = array_reserve(b->bytes, &b->cap, b->len + more + 1, 1);
    if (moved == NULL) {
        b->failed = true;
        return false;
    }
    b->bytes = moved;
    return true;
}

void textbuf_add(struct textbuf *b, const void *src, size_t len) {
    if (!textbuf_reserve(b, len))
        return;
    if (len > 0)
        memcpy(b->bytes + b->len, src, len);
    b->len += len;
    b->bytes[b->len] = '\0';
}

void textbuf_puts(struct textbuf *b, const char *text) {
    textbuf_add(b, text, strlen(text));
}

void textbuf_putc(struct textbuf *b, char c) {
    textbuf_add(b, &c, 1);
}

void textbuf_printf(struct textbuf *b, const char *format, ...) {
    va_list args;
    va_start(args, format);
    va_list again;
    va_copy(again, args);
    char small[256];
    int n = vsnprintf(small, sizeof small, format, args);
    if (n >= 0 && (size_t)n < sizeof small) {
        textbuf_add(b, small, (size_t)n);
    } else if (n < 0) {
        b->failed = true;
    } else if (textbuf_reserve(b, (size_t)n)) {
        (void)vsnprintf(b->bytes + b->len, (size_t)n + 1, format, again);
        b->len += (size_t)n;
    }
    va_end(again);
    va_end(args);
}

void textbuf_int(struct textbuf *b, int64_t value) {
    char digits[24];
    size_t at = sizeof digits;
    uint64_t rest = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
    do {
        digits[--at] = (char)('0' + rest % 10);
        rest /= 10;
    } while (rest > 0);
    if (value < 0)
        digits[--at] = '-';
    textbuf_add(b, digits + at, sizeof digits - at);
}

const char *textbuf_text(const struct textbuf *b) {
    return b->bytes == NULL || b->failed ? "" : b->bytes;
}

void textbuf_plain(struct textbuf *b, const char *text) {
    while (*text != '\0') {
        const char *from = text;
        if (utf8_is_control(utf8_next(&text)))
            textbuf_putc(b, ' ');
        else
            textbuf_add(b, from, (size_t)(text - from));
    }
}
