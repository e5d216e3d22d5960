/* SPDX-License-Identifier: MIT */
/* api_proposal.h - tries a new entry list or new rules against the event without taking them: what
 * is wrong or doubtful in them, which cars would be added, changed or gone, and which facts would
 * lose their place; of new rules also who would move where. Organisers only. See http.h. */
#ifndef CAIRN_API_PROPOSAL_H
#define CAIRN_API_PROPOSAL_H

#include "event/event.h"
#include "http/http.h"

/* The body is event.json, or entries.csv, as a PUT would send it. Nothing is changed. */
unsigned act_try_rules(struct request *r, struct textbuf *b);
unsigned act_try_entries(struct request *r, struct textbuf *b);

/* Tells what would come of a document, as the two above do.
 *   own    the document, borrowed for the call
 *   rules  it is event.json, else entries.csv
 *   more   members that the answer has too, each behind its comma; may be NULL
 * Returns the status. */
unsigned proposal_try(struct request *r, struct textbuf *b, struct file_text own, bool rules,
                      const struct textbuf *more);

/* The same answer for what cannot even be tried: `problems` are what is wrong. */
unsigned proposal_refuse(struct request *r, struct textbuf *b, const struct problems *problems,
                         const struct textbuf *more);

/* Worked examples of one item's rules; the body is event.json, perhaps not yet taken. */
unsigned act_examples(struct request *r, struct textbuf *b);

#endif
