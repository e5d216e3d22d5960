/* SPDX-License-Identifier: MIT */
/* media_type.h - what a Content-Type says: RFC 9110, 8.3. Pure functions, any thread. */
#ifndef CAIRN_MEDIA_TYPE_H
#define CAIRN_MEDIA_TYPE_H

#include <stdbool.h>

/* True where a Content-Type is of that media type, parameters aside and in any case. NULL is of
 * none. */
bool media_type_is(const char *content_type, const char *type);

/* True where a Content-Type names no other character set than UTF-8 (or its part US-ASCII), or
 * none. NULL names none. */
bool media_type_is_utf8(const char *content_type);

#endif
