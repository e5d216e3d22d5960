/* SPDX-License-Identifier: MIT */
/* qr.h - a text as a QR code: as modules, or drawn as one SVG path; needs no script and no image of
 * its own. Any thread. */
#ifndef CAIRN_QR_H
#define CAIRN_QR_H

#include "base/textbuf.h"

/* Appends an <svg> element with the class "qr": dark modules on a light ground with the quiet zone
 * that scanners need, one unit a module. It is an image for readers of the screen, named by the
 * text's own words beside it, so write the text there too.
 *   text  UTF-8, not NULL; an address of up to some 1,000 bytes
 * Returns: ERR_OK; ERR_INPUT where the text is empty or too long for a code; ERR_NOMEM. On failure
 * nothing is appended. */
int qr_svg(struct textbuf *b, const char *text);

/* Light modules on each side; scanners look for four. */
enum { QR_QUIET = 4 };

/* The code's modules, row by row, without the quiet zone.
 *   text     as above
 *   modules  gets side * side bytes, 1 for dark; emptied first
 *   side     gets the modules of a row
 * Returns: as above. */
int qr_modules(struct textbuf *modules, const char *text, int *side);

#endif
