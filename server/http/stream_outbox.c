/* SPDX-License-Identifier: MIT */
#include "http/stream_outbox.h"

void stream_outbox_put(struct stream_outbox *outbox, struct stream_message *message) {
    struct stream_message **place = outbox->sending == NULL ? &outbox->sending : &outbox->waiting;
    stream_message_release(*place);
    *place = stream_message_hold(message);
}

void stream_outbox_next(struct stream_outbox *outbox) {
    stream_message_release(outbox->sending);
    *outbox = (struct stream_outbox){.sending = outbox->waiting};
}

void stream_outbox_clear(struct stream_outbox *outbox) {
    stream_message_release(outbox->sending);
    stream_message_release(outbox->waiting);
    *outbox = (struct stream_outbox){0};
}
