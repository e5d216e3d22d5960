/* SPDX-License-Identifier: MIT */
/* api_codes.h - the codes of crews, for the office to print and to renew. Organisers only. See
 * http.h, and crew_code.h for what a code is. */
#ifndef CAIRN_API_CODES_H
#define CAIRN_API_CODES_H

#include "http/http.h"

/* Every car with its crew and code, as JSON or CSV. */
unsigned api_codes(struct request *r, struct textbuf *b);

/* POST .../codes/N with {"renew": true}: car N gets a new code, and the one before is none any
 * more. The answer tells the new one. */
unsigned write_code_renewal(struct request *r, struct write *write);
void tell_code(struct request *r, const struct write *write, struct textbuf *b);

/* Appends the codes as CSV: number, driver, navigator, code. */
void codes_write_csv(struct textbuf *b, const struct entries *entries,
                     const struct code_book *book);

#endif
