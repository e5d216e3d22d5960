/* SPDX-License-Identifier: MIT */
#include "system/problem_lines.h"

#include <stdio.h>

#include "base/problem.h"

/* A problem is one line, whatever text it quotes: control characters are written out. */
static void print_escaped(const char *text) {
    for (; *text != '\0'; text++) {
        unsigned char c = (unsigned char)*text;
        if (c == '\n')
            (void)fputs("\\n", stderr);
        else if (c == '\r')
            (void)fputs("\\r", stderr);
        else if (c == '\t')
            (void)fputs("\\t", stderr);
        else if (c < 0x20 || c == 0x7f)
            (void)fprintf(stderr, "\\x%02x", c);
        else if (c == 0xc2 && (unsigned char)text[1] < 0xa0) /* C1: the bytes of U+0080 to U+009F */
            (void)fprintf(stderr, "\\x%02x", (unsigned char)*++text);
        else
            (void)fputc(c, stderr);
    }
}

void print_problems(const struct problems *problems) {
    static const char *const marks[] = {[PROBLEM_ERROR] = "",
                                        [PROBLEM_REFUSED] = "refused: ",
                                        [PROBLEM_WARNING] = "warning: ",
                                        [PROBLEM_DOUBT] = "doubt: "};
    for (size_t i = 0; i < problems->count; i++) {
        print_escaped(problems->list[i].place);
        (void)fprintf(stderr, ": %s", marks[problems->list[i].level]);
        print_escaped(problems->list[i].text);
        (void)fputc('\n', stderr);
    }
}
