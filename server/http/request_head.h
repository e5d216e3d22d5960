/* SPDX-License-Identifier: MIT */
/* request_head.h - what is refused of a request's head, whatever it asks for: where another on the
 * way could read it in another way than this server. */
#ifndef CAIRN_REQUEST_HEAD_H
#define CAIRN_REQUEST_HEAD_H

#include "http/exchange.h"

/* Looks at how the body is told and at Host.
 * Returns: 0, or the status of an error, described; then nothing of the connection can be trusted
 * any more. */
unsigned request_head_refusal(struct exchange *x);

#endif
