/* SPDX-License-Identifier: MIT */
/* api_log.h - the log of an event: every fact that changed it, who, when, why and what it changed.
 * Organisers only. See http.h. */
#ifndef CAIRN_API_LOG_H
#define CAIRN_API_LOG_H

#include "http/http.h"

/* The log, the newest first, a page at a time, as JSON or CSV. */
unsigned api_log(struct request *r, struct textbuf *b);

/* One entry, with who moved where by it. */
unsigned api_log_entry(struct request *r, struct textbuf *b);

#endif
