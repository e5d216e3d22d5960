/* SPDX-License-Identifier: MIT */
#include "format/percent.h"

#include <stdbool.h>
#include <string.h>

#include "base/textbuf.h"

static bool is_unreserved(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           strchr("-._~", c) != NULL;
}

void percent_write(struct textbuf *b, const char *text, const char *keep) {
    static const char hex[] = "0123456789ABCDEF";
    for (; *text != '\0'; text++) {
        unsigned code = (unsigned char)*text;
        if (is_unreserved(*text) || strchr(keep, *text) != NULL)
            textbuf_putc(b, *text);
        else
            textbuf_add(b, (char[]){'%', hex[code >> 4], hex[code & 15]}, 3);
    }
}
