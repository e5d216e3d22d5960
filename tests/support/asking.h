/* SPDX-License-Identifier: MIT */
/* asking.h - a client for tests of a server in the same process: one request a connection, as text.
 * Whatever fails, fails the test. */
#ifndef CAIRN_TESTS_ASKING_H
#define CAIRN_TESTS_ASKING_H

#include "base/textbuf.h"

/* What came back. `text` is the caller's to clear; the rest stands in it. */
struct reply {
    struct textbuf text;
    long status;
    const char *head; /* lines of the head, with the first */
    const char *body;
    size_t body_len;
};

/* Connects to a port of this machine. Returns the socket. */
int ask_connect(unsigned port);

/* Sends a request and reads until the server closes the connection.
 *   line     method and target: "GET /"
 *   headers  lines with "\r\n" behind each; Host and Connection: close are added
 *   body     NULL for none; its length is told */
void ask(unsigned port, const char *line, const char *headers, const char *body,
         struct reply *reply);

/* Reads what comes over a socket until the server closes the connection: one reply. */
void reply_read(int fd, struct reply *reply);

/* The value of a header of a reply, copied into `value`; "" where it is not there. */
void reply_header(const struct reply *reply, const char *name, char *value, size_t size);

void reply_clear(struct reply *reply);

#endif
