/* SPDX-License-Identifier: MIT */
/* api_facts.h - all facts of an event for a server that stands by. See http.h. */
#ifndef CAIRN_API_FACTS_H
#define CAIRN_API_FACTS_H

#include "http/http.h"

/* What a side that holds "{}" (see facts_digest.h) lacks: documents, readings, decisions; and
 * always notices, cases, keys (as hashes) and the numbers of the revision. */
unsigned api_facts(struct request *r, struct textbuf *b);

#endif
