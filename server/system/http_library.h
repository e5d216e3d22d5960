/* SPDX-License-Identifier: MIT */
/* http_library.h - the HTTP library, loaded when it is first called (see shared_library.h).
 * With it come TLS and all that TLS needs: linked, they would be half the time of a command that
 * only scores. Its functions are called by their own names and declared by its own header; what
 * stands here in their place passes each call on. */
#ifndef CAIRN_HTTP_LIBRARY_H
#define CAIRN_HTTP_LIBRARY_H

#include <stdbool.h>

struct textbuf;

/* Loads the library, unless it is loaded. To be asked before a server starts: a call where there is
 * no library ends the program. Any thread may call it.
 *   why  gets what is missing
 * Returns: true once it is there. */
bool http_library_load(struct textbuf *why);

#endif
