/* SPDX-License-Identifier: MIT */
/* delivery.h - brings the rows of a file to the server: batch by batch, again and again until each
 * is acknowledged or refused.
 *
 * A reading that arrives twice counts once, so a batch whose answer was lost is simply sent again.
 * Between tries it waits a random time of 0 to 2^n seconds, 60 at most, and at least what the
 * server asks for in Retry-After. A batch that the server refuses as a whole is halved until the
 * one row is found for which it does. An answer that is not a cairn server's (a hotel's sign-in
 * page) counts as none. One owner at a time. */
#ifndef CAIRN_DELIVERY_H
#define CAIRN_DELIVERY_H

#include <signal.h>
#include <stddef.h>
#include <stdint.h>

#include "remote/reading_file.h"
#include "remote/progress.h"

struct sent_file;
struct http_client;

enum delivery_end {
    DELIVERY_DONE,    /* each row is acknowledged or refused */
    DELIVERY_STOPPED, /* *stop was set */
    DELIVERY_FAILED   /* reported on standard error */
};

/* The caller sets the first part; the rest is the result. */
struct delivery {
    const char *command; /* for messages: "cairn send" */
    const char *name;    /* of the file, likewise */
    struct reading_file *file;
    struct http_client *client; /* with the key */
    const char *url;            /* where readings are posted */
    struct sent_file *sent_file;
    struct progress *progress;
    const volatile sig_atomic_t *stop;
    size_t batch;      /* rows of a batch, 1 or more */
    int64_t tries;     /* of one batch before it gives up; 0: no end */
    bool recognised;   /* false; true once a cairn server has answered */
    size_t accepted;   /* acknowledged rows that were new to the server */
    size_t duplicates; /* and that it had already */
};

/* Sends all rows that wait. Rows change their state; acknowledged ones are noted in FILE.sent
 * after each batch. */
enum delivery_end delivery_run(struct delivery *delivery);

#endif
