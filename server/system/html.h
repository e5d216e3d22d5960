/* SPDX-License-Identifier: MIT */
/* html.h - HTML: escaping of text; and scripts with named slots. Any thread. Pages come from
 * templates, which escape by themselves: see template.h. */
#ifndef CAIRN_HTML_H
#define CAIRN_HTML_H

#include "base/textbuf.h"

/* Appends text as HTML text or as a quoted attribute value: & < > " ' are escaped. Every text
 * that somebody typed goes through here. */
void html_text(struct textbuf *b, const char *text);

/* A name in a script and what stands for it, as it is. */
struct script_slot {
    const char *name;
    const char *value;
};

/* Appends a script with each {{name}} replaced. Unknown names are left out.
 *   text, end  the script; a NUL stands at `end` */
void script_fill(struct textbuf *b, const char *text, const char *end,
                 const struct script_slot *slots, size_t count);

#endif
