/* SPDX-License-Identifier: MIT */
/* effects.h - what a change does to the classification, for handlers that tell of it: who moves
 * where (office/effect.h), by scores of what is tried (office/what_if.h). What is made here belongs
 * to the request. */
#ifndef CAIRN_EFFECTS_H
#define CAIRN_EFFECTS_H

#include "http/request.h"
#include "office/effect.h"
#include "office/what_if.h"

/* Tries something out; as what_if_new. */
int request_what_if(struct request *r, const struct event *event, struct what_if **out);

/* Compares two scores, as effect_make.
 *   out  gets the effect
 * Returns: ERR_OK or ERR_NOMEM. */
int request_effect(struct request *r, const struct scores *before, const struct scores *after,
                   const struct effect **out);

/* Writes the members "places", how many cars change their place, and "moves". */
void effect_write_members(struct textbuf *b, const struct effect *effect);

#endif
