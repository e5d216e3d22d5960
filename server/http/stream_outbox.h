/* SPDX-License-Identifier: MIT */
/* stream_outbox.h - what one listener of an event stream is still to be sent: the message that is
 * being written, and the newest after it. A listener that is slow loses the messages between, which
 * the newest makes up for; it never has a queue. A plain value, {0} is empty; one thread at a time.
 */
#ifndef CAIRN_STREAM_OUTBOX_H
#define CAIRN_STREAM_OUTBOX_H

#include "http/stream_message.h"

/* Read the members, but for `sent` write through the functions. */
struct stream_outbox {
    struct stream_message *sending; /* held; NULL where there is nothing to send */
    size_t sent;                    /* bytes of it that are written */
    struct stream_message *waiting; /* held; the newest after it, or NULL */
};

/* Adds a message, which it holds: in place of an older one that has not been begun. */
void stream_outbox_put(struct stream_outbox *outbox, struct stream_message *message);

/* The message is sent: the next becomes the one that is being written. */
void stream_outbox_next(struct stream_outbox *outbox);

/* Lets go of what it holds. */
void stream_outbox_clear(struct stream_outbox *outbox);

#endif
