/* SPDX-License-Identifier: MIT */
/* writes.h - the writing routes: bodies taken apart into writes, done writes told. See http.h. */
#ifndef CAIRN_WRITES_H
#define CAIRN_WRITES_H

#include "http/http.h"

/* Each takes the body apart into a write. Returns 0, or the status of an error described. */
unsigned write_readings(struct request *r, struct write *write);
unsigned write_decisions(struct request *r, struct write *write);
unsigned write_entries(struct request *r, struct write *write);
unsigned write_rules(struct request *r, struct write *write);
unsigned write_starts(struct request *r, struct write *write);
unsigned write_notice(struct request *r, struct write *write);
unsigned write_enquiry(struct request *r, struct write *write);
unsigned write_answer(struct request *r, struct write *write);

/* One JSON object, on as many lines as it likes, into the write's one row.
 *   names  of its members, `count` of them; others are refused, one not given is ""
 *   shape  how it should be, for who sent another
 * Returns as above. */
unsigned write_object(struct request *r, struct write *write, const char *const *names,
                      size_t count, const char *shape);

/* Each writes the answer to a write that was done. */
void tell_rows(struct request *r, const struct write *write, struct textbuf *b);
void tell_document(struct request *r, const struct write *write, struct textbuf *b);
void tell_starts(struct request *r, const struct write *write, struct textbuf *b);
void tell_notice(struct request *r, const struct write *write, struct textbuf *b);

#endif
