/* SPDX-License-Identifier: MIT */
/* api_proposal.h - tries a new entry list or new rules against the event without taking them: what
 * is wrong or doubtful in them, which cars would be added, changed or gone, and which facts would
 * lose their place; of new rules also who would move where. Organisers only. See http.h. */
#ifndef CAIRN_API_PROPOSAL_H
#define CAIRN_API_PROPOSAL_H

#include "http.h"

/* The body is event.json, or entries.csv, as a PUT would send it. Nothing is changed. */
unsigned act_try_rules(struct request *r, struct textbuf *b);
unsigned act_try_entries(struct request *r, struct textbuf *b);

/* Worked examples of one item's rules; the body is event.json, perhaps not yet taken. */
unsigned act_examples(struct request *r, struct textbuf *b);

#endif
