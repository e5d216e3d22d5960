/* SPDX-License-Identifier: MIT */
#include "format/extra.h"

#include <string.h>

#include "format/json_write.h"

const char *extra_value(const struct extra *extras, const char *name) {
    for (const struct extra *e = extras; e != NULL; e = e->next) {
        if (strcmp(e->name, name) == 0)
            return e->value;
    }
    return "";
}

void extra_write_json(struct textbuf *b, const struct extra *extras) {
    json_member_object(b, "extra");
    for (const struct extra *e = extras; e != NULL; e = e->next)
        json_member_text(b, e->name, e->value);
    json_close_object(b);
}
