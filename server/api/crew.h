/* SPDX-License-Identifier: MIT */
/* crew.h - what a crew may do with the code that it was given on paper: ask about its card, and
 * read what it asked and was answered. A case is told to whoever has the car's code, and to nobody
 * else. */
#ifndef CAIRN_CREW_H
#define CAIRN_CREW_H

#include "http/request.h"
#include "store/stored_enquiries.h"

/* What is wrong with what a crew sent. */
enum crew_fault {
    CREW_NO_FAULT,
    CREW_CROSS_SITE, /* a page of another site sent it */
    CREW_CODE_MISSING,
    CREW_CODE_WAIT, /* too many wrong ones came from this address */
    CREW_CODE_WRONG,
    CREW_POINT_UNKNOWN,
    CREW_TEXT_MISSING,
    CREW_TEXT_SIGNS, /* control characters */
    CREW_TEXT_LONG,
    CREW_FAULT_COUNT
};

/* Whether the code is that of the car that the address names, and was not sent from another site's
 * page.
 *   number  gets the car's
 *   fault   gets what is wrong; CREW_NO_FAULT too where it is the address
 * Returns 0, or the status of an error described. */
unsigned crew_identify(struct request *r, const char *code, int64_t *number,
                       enum crew_fault *fault);

/* Makes the write that opens a case. Where the same is asked already and not answered, that case is
 * told again.
 *   code, point, text  borrowed until it is done; `text` is tidied in place. An empty point stands
 *                      for the whole card
 *   out                gets the write
 * Otherwise as crew_identify. */
unsigned crew_ask(struct request *r, const char *code, const char *point, char *text,
                  enum crew_fault *fault, struct write **out);

/* Appends a case with its answer, as everybody who may see it is told. */
void enquiry_write_json(struct textbuf *b, const struct stored_enquiry *enquiry);

#endif
