/* SPDX-License-Identifier: MIT */
/* line_intake.h - the lines of a device, kept on disk as they come.
 * A thread of its own reads standard input, a file that grows or a serial line, and puts each whole
 * line into the journal, synced, before anybody else sees it: what is sent afterwards is read from
 * there, and no network that is down holds the device up.
 *
 * Memory is bounded: a line longer than INTAKE_LINE_MAX is passed over and told. A line that says
 * the same as the one before it is kept once; so is the header of a device that begins again. */
#ifndef CAIRN_LINE_INTAKE_H
#define CAIRN_LINE_INTAKE_H

#include <signal.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "system/serial.h"
#include "system/text_encoding.h"

struct line_intake;

enum { INTAKE_LINE_MAX = 4096 };

struct line_source {
    const char *follow; /* a file that grows; NULL */
    const char *serial; /* a serial line; NULL. Neither: standard input, up to its end */
    struct serial_form form;
    enum text_encoding encoding;
    bool has_header;
    int64_t from; /* bytes of the file that are in the journal */
};

/* Opens the journal, made where it is not there, and the source, and begins.
 *   source, journal, stop   borrowed until line_intake_end
 * Returns: ERR_OK; ERR_INPUT where the source, ERR_IO where the journal cannot be used, both told
 * on standard error; ERR_NOMEM. */
int line_intake_begin(const struct line_source *source, const char *journal,
                      const volatile sig_atomic_t *stop, struct line_intake **out);

/* Waits until more than `known` bytes of the journal are on disk, the source has ended, or a while
 * has passed.
 * Returns: how many bytes are on disk. */
int64_t line_intake_wait(struct line_intake *intake, int64_t known);

/* True once nothing more will come. */
bool line_intake_has_ended(const struct line_intake *intake);

/* Bytes of the file that are in the journal. */
int64_t line_intake_position(const struct line_intake *intake);

/* Ends the thread, and tells of a last line that has no end. NULL is accepted.
 * Returns: true where there was such a line. */
bool line_intake_end(struct line_intake *intake);

#endif
