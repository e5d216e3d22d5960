/* SPDX-License-Identifier: MIT */
#include "system/findings.h"

#include <stdarg.h>
#include <stdio.h>

#include "base/utf8.h"

void findings_add(struct findings *f, enum finding finding, const char *format, ...) {
    static const char *const words[] = {"good", "doubtful", "bad"};
    char line[1024];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(line, sizeof line, format, args);
    va_end(args);
    utf8_mask(line); /* a damaged file holds anything */
    textbuf_printf(&f->report, "%s: %s\n", words[finding], line);
    f->counts[finding]++;
}
