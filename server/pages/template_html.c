/* SPDX-License-Identifier: MIT */
/* Where in the HTML a template is, and what may stand there. */
#include <string.h>

#include "pages/template_compiler.h"

bool template_begins(const char *text, const char *end, const char *with) {
    size_t len = strlen(with);
    return (size_t)(end - text) >= len && memcmp(text, with, len) == 0;
}

bool template_follow(struct compiler *c, const char *at, const char *end) {
    switch (c->where) {
    case IN_TEXT:
        if (*at == '<') {
            c->where = IN_TAG;
            c->script =
                template_begins(at + 1, end, "script") || template_begins(at + 1, end, "style");
        }
        return true;
    case IN_SCRIPT:
        if (template_begins(at, end, "</")) {
            c->where = IN_TAG;
            c->script = false;
        }
        return true;
    case IN_VALUE:
        if (*at == '"')
            c->where = IN_TAG;
        return true;
    default:
        if (*at == '\'')
            return template_fault(c, "an attribute stands in double quotation marks");
        if (*at == '"')
            c->where = IN_VALUE;
        else if (*at == '>')
            c->where = c->script ? IN_SCRIPT : IN_TEXT;
        return true;
    }
}

/* True where the value of an attribute that leads somewhere has just begun: what stands there first
 * decides where to. */
static bool begins_address(const struct compiler *c) {
    static const char *const leading[] = {" href=\"", " src=\"", " action=\"", " formaction=\""};
    const struct textbuf *text = &c->code->text;
    for (size_t i = 0; i < sizeof leading / sizeof leading[0]; i++) {
        size_t len = strlen(leading[i]);
        if (text->len >= len && memcmp(text->bytes + text->len - len, leading[i], len) == 0)
            return true;
    }
    return false;
}

bool template_takes_text(struct compiler *c) {
    if (c->where == IN_TAG)
        return template_fault(c, "in a tag this stands in quotation marks only");
    if (c->where == IN_SCRIPT)
        return template_fault(c, "in a script only markup stands");
    if (c->where == IN_VALUE && begins_address(c))
        return template_fault(c, "an address stands here: {href:NAME}");
    return true;
}

bool template_takes_tags(struct compiler *c, bool script) {
    if (c->where == IN_TEXT || (script && c->where == IN_SCRIPT))
        return true;
    return template_fault(c, "this stands between tags only");
}
