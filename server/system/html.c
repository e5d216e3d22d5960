/* SPDX-License-Identifier: MIT */
#include "system/html.h"

#include <string.h>

void html_text(struct textbuf *b, const char *text) {
    for (;;) {
        size_t plain = strcspn(text, "&<>\"'");
        textbuf_add(b, text, plain);
        text += plain;
        switch (*text++) {
        case '\0':
            return;
        case '&':
            textbuf_puts(b, "&amp;");
            break;
        case '<':
            textbuf_puts(b, "&lt;");
            break;
        case '>':
            textbuf_puts(b, "&gt;");
            break;
        case '"':
            textbuf_puts(b, "&quot;");
            break;
        default:
            textbuf_puts(b, "&#39;");
            break;
        }
    }
}

void script_fill(struct textbuf *b, const char *text, const char *end,
                 const struct script_slot *slots, size_t count) {
    while (text < end) {
        const char *open = memmem(text, (size_t)(end - text), "{{", 2);
        const char *close = open == NULL ? NULL : memmem(open, (size_t)(end - open), "}}", 2);
        if (close == NULL) {
            textbuf_add(b, text, (size_t)(end - text));
            return;
        }
        textbuf_add(b, text, (size_t)(open - text));
        for (size_t i = 0; i < count; i++) {
            size_t len = strlen(slots[i].name);
            if (len == (size_t)(close - open) - 2 && strncmp(open + 2, slots[i].name, len) == 0)
                textbuf_puts(b, slots[i].value);
        }
        text = close + 2;
    }
}
