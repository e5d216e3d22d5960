/* SPDX-License-Identifier: MIT */
/* error_answer.h - errors as they are answered: in a page to a browser that asks for one, else as
 * application/problem+json (RFC 9457). */
#ifndef CAIRN_ERROR_ANSWER_H
#define CAIRN_ERROR_ANSWER_H

#include "http/exchange.h"

/* Answers with the error described in the request.
 *   allowed  methods for a 405, else NULL */
enum MHD_Result error_answer(struct exchange *x, unsigned status, const char *allowed);

#endif
