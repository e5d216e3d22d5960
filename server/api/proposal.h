/* SPDX-License-Identifier: MIT */
/* proposal.h - tells what would come of a document that is not taken. */
#ifndef CAIRN_PROPOSAL_H
#define CAIRN_PROPOSAL_H

#include "event/event.h"
#include "http/request.h"

/* Writes what is wrong or doubtful in a document, which cars would be added, changed or gone, and
 * which facts would lose their place.
 *   own    the document, borrowed for the call
 *   rules  it is event.json, else entries.csv
 *   more   members that the answer has too, with the commas between them; may be NULL
 * Returns the status. */
unsigned proposal_try(struct request *r, struct textbuf *b, struct file_text own, bool rules,
                      const struct textbuf *more);

/* The same answer for what cannot even be tried: `problems` are what is wrong. */
unsigned proposal_refuse(struct request *r, struct textbuf *b, const struct problems *problems,
                         const struct textbuf *more);

#endif
