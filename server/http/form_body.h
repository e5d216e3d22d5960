/* SPDX-License-Identifier: MIT */
/* form_body.h - what a form of a page sends: application/x-www-form-urlencoded, taken apart.
 * Source: the URL standard's parser of that media type. A plain value; {0} was never read. */
#ifndef CAIRN_FORM_BODY_H
#define CAIRN_FORM_BODY_H

#include <stdbool.h>
#include <stddef.h>

enum { FORM_BODY_FIELDS_MAX = 8 };

struct form_body {
    char *bytes; /* owned; the values stand in it */
    size_t room;
    const char *values[FORM_BODY_FIELDS_MAX]; /* in the order of the names; "" where not sent */
    const char *fault; /* key of the word that tells what is wrong with it; NULL */
    bool read;         /* form_body_read was good */
};

/* Takes a body apart.
 *   body         `len` bytes; may be NULL only if len is 0
 *   names        of the fields that the form has; `count` of them, at most FORM_BODY_FIELDS_MAX
 * Returns: ERR_OK; ERR_INPUT where a field is none of these or comes twice, a value holds a NUL or
 * is no UTF-8; ERR_NOMEM. */
int form_body_read(struct form_body *form, const char *body, size_t len, const char *const *names,
                   size_t count);

/* Wipes and frees what it owns. */
void form_body_clear(struct form_body *form);

#endif
