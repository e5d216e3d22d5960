/* SPDX-License-Identifier: MIT */
/* api_notices.h - the notice board as JSON and CSV, notices with their seals, the cases of crews.
 * See http.h. */
#ifndef CAIRN_API_NOTICES_H
#define CAIRN_API_NOTICES_H

#include "http/http.h"

/* All notices, oldest first. */
unsigned api_notices(struct request *r, struct textbuf *b);

/* One notice as it was sealed, with its hash, signature and signer: what `cairn verify` reads. */
unsigned api_notice(struct request *r, struct textbuf *b);

/* Appends a case with its answer, as everybody who may see it is told. */
void enquiry_write_json(struct textbuf *b, const struct stored_enquiry *enquiry);

/* Enquiries and protests with their answers. Organisers only. */
unsigned api_enquiries(struct request *r, struct textbuf *b);

#endif
