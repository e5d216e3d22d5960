/* SPDX-License-Identifier: MIT */
/* pairs.h - blocks with something on the left and a text of larger letters beside it. */
#ifndef CAIRN_PAIRS_H
#define CAIRN_PAIRS_H

#include "paper/printer.h"

/* Draws a block from where the printer stands, on the next page where this one has no room for it.
 *   text  a label, or what a QR code is to say; a line break; what stands beside it */
void pair_draw(struct printer *p, const char *text);
void code_draw(struct printer *p, const char *text);

#endif
