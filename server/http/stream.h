/* SPDX-License-Identifier: MIT */
/* stream.h - server-sent events: who listens to an event, and what they are sent.
 *
 * A hub has a few senders (stream_sender.h), each a thread with its share of the listeners. The
 * event's writer hands a message to all of them; each writes it to the sockets of its listeners
 * (stream_socket.h). Only what the public may see is sent. A listener that cannot keep up holds one
 * message, the newest, never a queue (stream_outbox.h). */
#ifndef CAIRN_STREAM_H
#define CAIRN_STREAM_H

#include "http/exchange.h"

struct stream_hub;

/* A hub for `limit` listeners; further ones are asked to reconnect later. Its threads are started
 * with the first listeners. NULL when memory is out. */
struct stream_hub *stream_hub_new(int limit);

/* Ends every listener's connection and the threads; NULL is accepted. stream_hub_free may follow
 * once the HTTP library has stopped: until then it releases listeners. */
void stream_hub_stop(struct stream_hub *hub);
void stream_hub_free(struct stream_hub *hub);

/* Answers GET …/stream: from here on the client is a listener. Lets go of the request's snapshot,
 * which a stream would outlive by far. */
enum MHD_Result stream_open(struct exchange *x);

/* Sends an event's listeners what a new snapshot changed. Called by the writer's thread; never
 * waits for a listener. */
void stream_publish(struct stream_hub *hub, struct served_event *served,
                    const struct snapshot *before, const struct snapshot *now);

/* Listeners now. */
int stream_listeners(const struct stream_hub *hub);

/* Listeners that there may be at once. */
int stream_limit(const struct stream_hub *hub);

/* Listeners that were asked to reconnect later, since the start. */
long long stream_turned_away(const struct stream_hub *hub);

/* Appends the message that leads from one set of public results to the next:
 * `{"from":…,"revision":…, "rows":[[car,position,penalty,through],…]}`, without rows where they
 * would be too many bytes for one packet. Nothing where the public revision is the same. */
void stream_write_patch(struct textbuf *b, const struct snapshot *before,
                        const struct snapshot *now);

#endif
