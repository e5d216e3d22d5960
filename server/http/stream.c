/* SPDX-License-Identifier: MIT */
#include "http/stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>
#include <unistd.h>

#include "format/json_write.h"
#include "http/connections.h"
#include "http/response.h"
#include "http/server_private.h"
#include "http/stream_sender.h"

/* A message over this would not fit one packet with its frame: the version alone is sent. */
enum { PATCH_BYTES_MAX = 1400, SENDERS_MAX = 4 };

/* The listeners are spread over the senders, so that each core sends its part. */
struct stream_hub {
    struct stream_sender *senders[SENDERS_MAX];
    unsigned sender_count;
    atomic_uint next; /* sender for the next listener */
    int limit;
    atomic_int listeners;
    atomic_llong turned_away;
};

struct stream_hub *stream_hub_new(int limit) {
    struct stream_hub *hub = calloc(1, sizeof *hub);
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    if (hub == NULL)
        return NULL;
    hub->limit = limit;
    hub->sender_count = cores < 1 ? 1 : cores > SENDERS_MAX ? SENDERS_MAX : (unsigned)cores;
    for (unsigned i = 0; i < hub->sender_count; i++) {
        hub->senders[i] = stream_sender_new();
        if (hub->senders[i] == NULL) {
            stream_hub_free(hub);
            return NULL;
        }
    }
    return hub;
}

int stream_listeners(const struct stream_hub *hub) {
    return atomic_load(&hub->listeners);
}

int stream_limit(const struct stream_hub *hub) {
    return hub->limit;
}

long long stream_turned_away(const struct stream_hub *hub) {
    return atomic_load(&hub->turned_away);
}

void stream_hub_stop(struct stream_hub *hub) {
    for (unsigned i = 0; hub != NULL && i < hub->sender_count; i++) {
        if (hub->senders[i] != NULL)
            stream_sender_stop(hub->senders[i]);
    }
}

void stream_hub_free(struct stream_hub *hub) {
    if (hub == NULL)
        return;
    for (unsigned i = 0; i < hub->sender_count; i++)
        stream_sender_free(hub->senders[i]);
    free(hub);
}

/* How long a listener waits before it reconnects, ms: at random, so that after a restart not all
 * reconnect at once. */
static unsigned retry_ms(void) {
    unsigned random = 0;
    if (getrandom(&random, sizeof random, GRND_NONBLOCK) != (ssize_t)sizeof random)
        random = (unsigned)time(NULL);
    return 3000 + random % 12000;
}

/* The message that the results are at a revision by now. */
static void write_revision(struct textbuf *b, int64_t revision) {
    textbuf_printf(b, "id: %lld\ndata: ", (long long)revision);
    json_open_object(b);
    json_member_int(b, "revision", revision);
    json_close_object(b);
    textbuf_puts(b, "\n\n");
}

/* A message of a buffer, which it clears; NULL where memory is out, and of an empty one. */
static struct stream_message *take_message(int64_t revision, struct textbuf *b) {
    struct stream_message *message =
        b->len > 0 && !b->failed ? stream_message_new(revision, b->bytes, b->len) : NULL;
    textbuf_clear(b);
    return message;
}

/* True where a client that reconnects has seen that revision. */
static bool has_seen(const struct request *r, int64_t revision) {
    const char *last = request_header(r, "Last-Event-ID");
    char text[24];
    (void)snprintf(text, sizeof text, "%lld", (long long)revision);
    return last != NULL && strcmp(last, text) == 0;
}

static struct stream_message *greeting(const struct request *r, bool too_many) {
    int64_t revision = r->snapshot->public_results.revision;
    struct textbuf b = {0};
    /* Never 503: that ends an event source for good. It is to reconnect in a minute. */
    textbuf_printf(&b, "retry: %u\n", too_many ? 60000 : retry_ms());
    if (too_many)
        textbuf_putc(&b, '\n');
    else if (has_seen(r, revision))
        textbuf_puts(&b, ": up to date\n\n");
    else
        write_revision(&b, revision);
    return take_message(0, &b);
}

/* See struct listener. */
static struct stream_message *missed(struct served_event *served, int64_t revision) {
    struct snapshot *s = snapshot_acquire(&served->slot);
    int64_t now = s == NULL ? revision : s->public_results.revision;
    struct textbuf b = {0};
    snapshot_release(s);
    if (now != revision)
        write_revision(&b, now);
    return take_message(now, &b);
}

enum MHD_Result stream_open(struct exchange *x) {
    struct request *r = &x->request;
    struct stream_hub *hub = r->server->streams;
    struct listener *l = calloc(1, sizeof *l);
    if (l == NULL)
        return MHD_NO;
    bool too_many =
        atomic_fetch_add(&hub->listeners, 1) >= hub->limit ||
        (r->role == ROLE_PUBLIC && connections_are_crowded(r->server->connections, x->client));
    if (too_many)
        atomic_fetch_add(&hub->turned_away, 1);
    l->sender = hub->senders[atomic_fetch_add(&hub->next, 1) % hub->sender_count];
    l->connection = r->connection;
    l->served = too_many ? NULL : r->served;
    l->count = &hub->listeners;
    l->by_library = r->server->tls != NULL;
    /* Under TLS the connection itself lives on, and is counted; one that is turned away may ask
     * again. */
    l->of_address = l->by_library || too_many ? NULL : client_hand_over_count(x->client);
    l->chunked = strcmp(x->version, MHD_HTTP_VERSION_1_0) != 0;
    l->outbox.sending = greeting(r, too_many);
    l->revision = r->snapshot->public_results.revision;
    l->missed = missed;
    struct MHD_Response *response =
        l->outbox.sending == NULL
            ? NULL
            : MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, PATCH_BYTES_MAX,
                                                stream_sender_read, l, stream_sender_release);
    if (response == NULL) {
        stream_sender_release(l);
        return MHD_NO;
    }
    /* A stream outlives many revisions, and must not keep the one that it began with. */
    snapshot_release(r->snapshot);
    r->snapshot = NULL;
    r->results = NULL;
    response_add_common(r, response);
    response_add(response, MHD_HTTP_HEADER_CONTENT_TYPE, "text/event-stream");
    response_add(response, MHD_HTTP_HEADER_CACHE_CONTROL, "no-cache, no-transform");
    response_add(response, "X-Accel-Buffering", "no");
    x->status = MHD_HTTP_OK;
    enum MHD_Result result = MHD_queue_response(r->connection, MHD_HTTP_OK, response);
    MHD_destroy_response(response);
    return result;
}

static bool differs(const struct scores *a, const struct scores *b, int car) {
    const struct car_score *x = &a->cars[car];
    const struct car_score *y = &b->cars[car];
    return x->position != y->position || x->through != y->through || x->status != y->status ||
           x->tally[BASIS_CORRECTED].total != y->tally[BASIS_CORRECTED].total ||
           x->tally[BASIS_CORRECTED].fails != y->tally[BASIS_CORRECTED].fails;
}

static void write_rows(struct textbuf *b, const struct scores *before, const struct scores *now) {
    const struct event *event = now->event;
    json_member_array(b, "rows");
    for (int car = 0; car < event->entries->count && b->len < PATCH_BYTES_MAX; car++) {
        const struct car_score *score = &now->cars[car];
        if (!differs(before, now, car))
            continue;
        json_open_array(b);
        json_write_int(b, event->entries->list[car].number);
        if (score->position > 0)
            json_write_int(b, score->position);
        else
            json_write_null(b);
        json_write_decimal(b, score->tally[BASIS_CORRECTED].total);
        if (score->through >= 0)
            json_write_text(b, event->rules->points[score->through].id);
        else
            json_write_null(b);
        json_close_array(b);
    }
    json_close_array(b);
}

void stream_write_patch(struct textbuf *b, const struct snapshot *before,
                        const struct snapshot *now) {
    int64_t to = now->public_results.revision;
    if (before != NULL && before->public_results.revision == to)
        return;
    size_t from = b->len;
    if (before != NULL && before->event.entries == now->event.entries) {
        textbuf_printf(b, "id: %lld\ndata: ", (long long)to);
        json_open_object(b);
        json_member_int(b, "from", before->public_results.revision);
        json_member_int(b, "revision", to);
        write_rows(b, before->public_results.scores, now->public_results.scores);
        if (b->len - from <= PATCH_BYTES_MAX) {
            json_close_object(b);
            textbuf_puts(b, "\n\n");
            return;
        }
        if (!b->failed)
            b->len = from;
    }
    write_revision(b, to);
}

void stream_publish(struct stream_hub *hub, struct served_event *served,
                    const struct snapshot *before, const struct snapshot *now) {
    struct textbuf b = {0};
    if (stream_listeners(hub) == 0)
        return;
    stream_write_patch(&b, before, now);
    struct stream_message *message = take_message(now->public_results.revision, &b);
    for (unsigned i = 0; message != NULL && i < hub->sender_count; i++)
        stream_sender_send(hub->senders[i], served, message);
    stream_message_release(message);
}
