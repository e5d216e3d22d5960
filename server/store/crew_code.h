/* SPDX-License-Identifier: MIT */
/* crew_code.h - the code by which a crew asks the office: worked out, printed on paper, compared.
 * A code is a keyed hash of the event's secret over the car's number and a serial that rises when
 * the code is renewed. Plain values; any thread. libsodium must have been set up. */
#ifndef CAIRN_CREW_CODE_H
#define CAIRN_CREW_CODE_H

#include <stdbool.h>
#include <stdint.h>

enum {
    CODE_SECRET_LEN = 32,
    CODE_SIGNS = 9,                 /* of 24 signs each: 41 bits */
    CODE_TEXT_LEN = CODE_SIGNS + 2, /* in three groups: "K7M-4RX-9AD" */
    RECEIPT_LEN = 16                /* hex digits */
};

/* The code of a car as it is printed.
 *   car     its number
 *   serial  how often it was renewed
 *   text    gets it, with a NUL */
void crew_code_make(const unsigned char secret[CODE_SECRET_LEN], int64_t car, int64_t serial,
                    char text[CODE_TEXT_LEN + 1]);

/* True where what was typed is that code: in any case, with or without blanks and dashes. Compared
 * in constant time. */
bool crew_code_is(const unsigned char secret[CODE_SECRET_LEN], int64_t car, int64_t serial,
                  const char *typed);

/* What the address of a case's receipt ends with, so that nobody finds another crew's by counting.
 *   number  of the case
 *   text    gets it, with a NUL */
void crew_receipt_make(const unsigned char secret[CODE_SECRET_LEN], int64_t car, int64_t number,
                       char text[RECEIPT_LEN + 1]);

#endif
