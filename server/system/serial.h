/* SPDX-License-Identifier: MIT */
/* serial.h - a serial line of a timing device or a receiver, by termios. Any thread. */
#ifndef CAIRN_SERIAL_H
#define CAIRN_SERIAL_H

#include <stdint.h>

enum serial_parity { PARITY_NONE, PARITY_EVEN, PARITY_ODD };

/* Names of the parities in that order, for a command line; NULL ends them. */
extern const char *const serial_parities[];

struct serial_form {
    int64_t speed; /* bits in a second: 1200 to 115200, as usual */
    int64_t bits;  /* of a letter: 7 or 8 */
    int parity;    /* enum serial_parity */
    int64_t stops; /* stop bits: 1 or 2 */
};

/* Opens the line for reading, with neither echo nor anything that changes bytes.
 * Returns: a descriptor for the caller to close; -1 with errno (EINVAL: no such speed, ENOTTY: no
 * serial line). */
int serial_open(const char *device, const struct serial_form *form);

#endif
