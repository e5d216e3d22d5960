/* SPDX-License-Identifier: MIT */
/* feed_sender.h - brings the lines of a journal to the server, part by part.
 * Beside the journal stands JOURNAL.sent, which says how far that has come; it is replaced behind
 * each part that the server acknowledged or refused, so that a run that was killed goes on there.
 * What was sent and not noted is sent again and counts once. Rows that are wrong or refused go to
 * JOURNAL.rejects. One owner at a time. */
#ifndef CAIRN_FEED_SENDER_H
#define CAIRN_FEED_SENDER_H

#include <signal.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct http_client;
struct reading_file_options;

/* How far a journal was sent. */
struct feed_place {
    int64_t sent;   /* bytes of the journal */
    int64_t lines;  /* and lines */
    int64_t source; /* bytes of the followed file that are in the journal */
};

enum feed_end {
    FEED_GOES_ON, /* what there was is sent or refused */
    FEED_STOPPED, /* *stop was set, or nothing can be sent for now */
    FEED_FAILED   /* told on standard error: to go on makes no sense */
};

/* The caller sets the first part; the rest is the state. */
struct feed_sender {
    const char *journal;
    struct reading_file_options *options; /* its first_line is set anew for each part */
    struct http_client *client;
    const char *url;
    const volatile sig_atomic_t *stop;
    size_t batch;
    bool quiet;
    struct feed_place place;
    bool recognised;  /* a cairn server has answered */
    bool header_seen; /* and was good */
    int64_t last_ms;  /* the time of the row before, TIME_NONE at first */
    int backward_told;
    size_t accepted, duplicates, rejected;
};

/* Reads JOURNAL.sent. A place of another address, or behind the journal's end, is the beginning. */
void feed_sender_load(struct feed_sender *f, int64_t on_disk);

/* Sends what stands in the journal up to `on_disk`.
 *   source  what to note of the followed file, once all is sent */
enum feed_end feed_sender_run(struct feed_sender *f, int64_t on_disk, int64_t source);

#endif
