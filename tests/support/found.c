/* SPDX-License-Identifier: MIT */
#include "found.h"

#include <stdio.h>
#include <string.h>

#include "testing.h"

struct findings found;

const char *found_lines(void) {
    static char last[1024];
    (void)snprintf(last, sizeof last, "%s", textbuf_text(&found.report));
    textbuf_clear(&found.report);
    return last;
}

void assert_found(const char *beginning) {
    const char *text = found_lines();
    if (strncmp(text, beginning, strlen(beginning)) != 0)
        fail_msg("“%s” does not begin with “%s”", text, beginning);
    assert_ptr_equal(strchr(text, '\n'), text + strlen(text) - 1);
}
