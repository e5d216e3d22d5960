/* SPDX-License-Identifier: MIT */
/* request_head.h - heads of requests that are refused whatever they ask for, since a proxy on the
 * way could read them differently than this server. */
#ifndef CAIRN_REQUEST_HEAD_H
#define CAIRN_REQUEST_HEAD_H

#include "http/exchange.h"

/* Looks at the names of headers, the framing of the body and Host.
 * Returns: 0, or the status of an error, described; then nothing of the connection can be trusted
 * any more. */
unsigned request_head_refusal(struct exchange *x);

#endif
