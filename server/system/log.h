/* SPDX-License-Identifier: MIT */
/* log.h - the server's lines on standard error, one for each thing, written at once. Two forms,
 * told apart by the second word; deploy/runbook.md describes both:
 *
 *   MOMENT ADDRESS METHOD PATH STATUS MICROSECONDS     a request
 *   MOMENT error event=SLUG what="…"                   something that went wrong; "-" for no event
 *
 * No query, no header and no body is ever written, so that no key is. Any thread. */
#ifndef CAIRN_LOG_H
#define CAIRN_LOG_H

#include <stdint.h>
#include <sys/socket.h>

/* A request that was answered.
 *   address  of the client; may be NULL
 *   method   NULL where none came
 *   path     as it was sent, without its query; blanks and control characters become "?"
 *   status   of the answer
 *   us       microseconds from its first line to the end of the answer */
void log_request(const struct sockaddr *address, const char *method, const char *path,
                 unsigned status, int64_t us);

/* Something that went wrong.
 *   event  its slug; NULL for none
 *   format, ...  as printf; ends of lines, quotes and control characters in it become "'" or " " */
void log_error(const char *event, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The same for several lines, each by itself. */
void log_errors(const char *event, const char *lines);

#endif
