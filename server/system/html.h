/* SPDX-License-Identifier: MIT */
/* html.h - HTML: escaping of text, and templates with named slots. Any thread. */
#ifndef CAIRN_HTML_H
#define CAIRN_HTML_H

#include "base/textbuf.h"

/* Appends text as HTML text or as a quoted attribute value: & < > " ' are escaped. Every text
 * that somebody typed goes through here. */
void html_text(struct textbuf *b, const char *text);

/* A name in a template and what stands for it; the value is HTML already. */
struct html_slot {
    const char *name;
    const char *value;
};

/* Appends a template with each {{name}} replaced. Unknown names are left out.
 *   text, end  the template */
void html_fill(struct textbuf *b, const char *text, const char *end, const struct html_slot *slots,
               size_t count);

#endif
