/* SPDX-License-Identifier: MIT */
#include "stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>
#include <unistd.h>

#include "answer.h"
#include "decimal.h"
#include "door.h"
#include "lane.h"
#include "output.h"

/* A message over this would not fit one packet with its frame: the version alone is sent. */
enum { PATCH_BYTES_MAX = 1400, LANES_MAX = 4 };

/* The listeners are spread over the lanes, so that each core sends its part. */
struct stream_hub {
    struct lane *lanes[LANES_MAX];
    unsigned lane_count;
    atomic_uint next; /* lane for the next listener */
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
    hub->lane_count = cores < 1 ? 1 : cores > LANES_MAX ? LANES_MAX : (unsigned)cores;
    for (unsigned i = 0; i < hub->lane_count; i++) {
        hub->lanes[i] = lane_new();
        if (hub->lanes[i] == NULL) {
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
    for (unsigned i = 0; hub != NULL && i < hub->lane_count; i++) {
        if (hub->lanes[i] != NULL)
            lane_stop(hub->lanes[i]);
    }
}

void stream_hub_free(struct stream_hub *hub) {
    if (hub == NULL)
        return;
    for (unsigned i = 0; i < hub->lane_count; i++)
        lane_free(hub->lanes[i]);
    free(hub);
}

/* How long a listener waits before it comes back, ms: each another, so that after a restart they
 * do not all come at once. */
static unsigned retry_ms(void) {
    unsigned random = 0;
    if (getrandom(&random, sizeof random, GRND_NONBLOCK) != (ssize_t)sizeof random)
        random = (unsigned)time(NULL);
    return 3000 + random % 12000;
}

static struct message *greeting(const struct request *r, bool too_many) {
    const char *last = MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, "Last-Event-ID");
    char revision[24];
    char text[160];
    int n;
    (void)snprintf(revision, sizeof revision, "%lld", (long long)r->snapshot->open_scene.revision);
    if (too_many) {
        /* Never 503: that ends an event source for good. It is told to come back in a minute. */
        n = snprintf(text, sizeof text, "retry: 60000\n\n");
    } else if (last != NULL && strcmp(last, revision) == 0) {
        n = snprintf(text, sizeof text, "retry: %u\n: up to date\n\n", retry_ms());
    } else {
        n = snprintf(text, sizeof text, "retry: %u\nid: %s\ndata: {\"revision\":%s}\n\n",
                     retry_ms(), revision, revision);
    }
    return message_new(0, text, (size_t)n);
}

/* See struct listener. */
static struct message *late(struct held *held, int64_t revision) {
    struct snapshot *s = snapshot_acquire(&held->slot);
    int64_t now = s == NULL ? revision : s->open_scene.revision;
    char text[80];
    snapshot_release(s);
    if (now == revision)
        return NULL;
    int n = snprintf(text, sizeof text, "id: %lld\ndata: {\"revision\":%lld}\n\n", (long long)now,
                     (long long)now);
    return message_new(now, text, (size_t)n);
}

enum MHD_Result stream_open(struct request *r) {
    struct stream_hub *hub = server_streams(r->server);
    struct listener *l = calloc(1, sizeof *l);
    if (l == NULL)
        return MHD_NO;
    bool too_many = atomic_fetch_add(&hub->listeners, 1) >= hub->limit ||
                    (r->role == ROLE_PUBLIC && door_is_crowded(server_door(r->server), r->visitor));
    if (too_many)
        atomic_fetch_add(&hub->turned_away, 1);
    l->lane = hub->lanes[atomic_fetch_add(&hub->next, 1) % hub->lane_count];
    l->connection = r->connection;
    l->held = too_many ? NULL : r->held;
    l->count = &hub->listeners;
    l->by_library = server_tls(r->server);
    /* Under TLS the connection itself lives on, and is counted; one that is turned away may ask
     * again. */
    l->of_address = l->by_library || too_many ? NULL : visitor_keep(r->visitor);
    l->chunked = strcmp(r->version, MHD_HTTP_VERSION_1_0) != 0;
    l->hello = greeting(r, too_many);
    l->revision = r->snapshot->open_scene.revision;
    l->late = late;
    struct MHD_Response *response =
        l->hello == NULL ? NULL
                         : MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, PATCH_BYTES_MAX,
                                                             lane_read, l, lane_let_go);
    if (response == NULL) {
        lane_let_go(l);
        return MHD_NO;
    }
    /* A stream outlives many revisions, and must not keep the one that it began with. */
    snapshot_release(r->snapshot);
    r->snapshot = NULL;
    r->scene = NULL;
    answer_common_headers(r, response);
    (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, "text/event-stream");
    (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CACHE_CONTROL,
                                  "no-cache, no-transform");
    (void)MHD_add_response_header(response, "X-Accel-Buffering", "no");
    r->status = MHD_HTTP_OK;
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
    const char *sep = "";
    textbuf_puts(b, ",\"rows\":[");
    for (int car = 0; car < event->entries->count && b->len < PATCH_BYTES_MAX; car++) {
        const struct car_score *score = &now->cars[car];
        if (!differs(before, now, car))
            continue;
        textbuf_printf(b, "%s[%d,", sep, event->entries->list[car].number);
        sep = ",";
        if (score->position > 0)
            textbuf_int(b, score->position);
        else
            textbuf_puts(b, "null");
        textbuf_puts(b, ",\"");
        decimal_write(b, score->tally[BASIS_CORRECTED].total);
        textbuf_puts(b, "\",");
        if (score->through >= 0)
            json_write_text(b, event->rules->points[score->through].id);
        else
            textbuf_puts(b, "null");
        textbuf_putc(b, ']');
    }
    textbuf_putc(b, ']');
}

void stream_write_patch(struct textbuf *b, const struct snapshot *before,
                        const struct snapshot *now) {
    int64_t to = now->open_scene.revision;
    if (before != NULL && before->open_scene.revision == to)
        return;
    size_t from = b->len;
    textbuf_printf(b, "id: %lld\ndata: {", (long long)to);
    size_t body = b->len;
    if (before != NULL && before->event.entries == now->event.entries) {
        textbuf_printf(b, "\"from\":%lld,", (long long)before->open_scene.revision);
        textbuf_printf(b, "\"revision\":%lld", (long long)to);
        write_rows(b, before->open_scene.scores, now->open_scene.scores);
        if (b->len - from <= PATCH_BYTES_MAX) {
            textbuf_puts(b, "}\n\n");
            return;
        }
        if (!b->failed)
            b->len = body;
    }
    textbuf_printf(b, "\"revision\":%lld}\n\n", (long long)to);
}

void stream_publish(struct stream_hub *hub, struct held *held, const struct snapshot *before,
                    const struct snapshot *now) {
    struct textbuf b = {0};
    if (stream_listeners(hub) == 0)
        return;
    stream_write_patch(&b, before, now);
    struct message *message =
        b.len > 0 && !b.failed ? message_new(now->open_scene.revision, b.bytes, b.len) : NULL;
    for (unsigned i = 0; message != NULL && i < hub->lane_count; i++)
        lane_tell(hub->lanes[i], held, message);
    message_release(message);
    textbuf_clear(&b);
}
