/* SPDX-License-Identifier: MIT */
#include "stream.h"

#include <errno.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/eventfd.h>
#include <sys/random.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "answer.h"
#include "decimal.h"
#include "hard_limits.h"
#include "output.h"

/* A message over this would not fit one packet with its frame: the version alone is sent. */
enum { PATCH_BYTES_MAX = 1400, BEAT_EVERY_MS = 15000, EVENTS_AT_ONCE = 256 };

/* Bytes shared by all who are sent them. */
struct message {
    atomic_int refs;
    size_t plain_at, plain_len; /* for HTTP/1.0 */
    size_t len;                 /* framed as one chunk */
    char bytes[];
};

struct listener {
    struct stream_hub *hub;
    struct MHD_Connection *connection;
    struct held *held;
    int socket;
    bool chunked;
    bool told; /* it has been sent something since it came */
    char hello[160];
    size_t hello_len;
    struct message *sending; /* what is being written */
    size_t sent;
    struct message *waiting; /* the newest after that */
    int place;               /* in the hub's list */
    atomic_bool ended;
};

/* What the writer's thread, and new listeners, hand to the thread of the streams. */
struct mail {
    struct mail *next;
    struct listener *joins; /* or */
    struct held *held;
    struct message *message;
};

struct stream_hub {
    pthread_t thread;
    bool started;
    int epoll;
    int wake;
    pthread_mutex_t lock; /* mail, last, stopping, started */
    struct mail *mail;
    struct mail **last;
    bool stopping;
    struct listener **list; /* of the thread alone */
    size_t count, cap;
    atomic_int listeners;
};

static void message_release(struct message *m) {
    if (m != NULL && atomic_fetch_sub(&m->refs, 1) == 1)
        free(m);
}

/* Frames a text as one chunk, so that the same bytes serve every HTTP/1.1 listener. */
static struct message *message_new(const char *text, size_t len) {
    char head[24];
    int head_len = snprintf(head, sizeof head, "%zx\r\n", len);
    struct message *m = malloc(sizeof *m + len + (size_t)head_len + 2);
    if (m == NULL)
        return NULL;
    atomic_init(&m->refs, 1);
    /* Bytes for a socket, not a string. */
    // NOLINTNEXTLINE(bugprone-not-null-terminated-result)
    memcpy(m->bytes, head, (size_t)head_len);
    memcpy(m->bytes + head_len, text, len);
    // NOLINTNEXTLINE(bugprone-not-null-terminated-result)
    memcpy(m->bytes + (size_t)head_len + len, "\r\n", 2);
    m->plain_at = (size_t)head_len;
    m->plain_len = len;
    m->len = (size_t)head_len + len + 2;
    return m;
}

struct stream_hub *stream_hub_new(void) {
    struct stream_hub *hub = calloc(1, sizeof *hub);
    if (hub == NULL)
        return NULL;
    hub->last = &hub->mail;
    (void)pthread_mutex_init(&hub->lock, NULL);
    hub->epoll = epoll_create1(EPOLL_CLOEXEC);
    hub->wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = NULL};
    if (hub->epoll < 0 || hub->wake < 0 ||
        epoll_ctl(hub->epoll, EPOLL_CTL_ADD, hub->wake, &event) != 0) {
        stream_hub_free(hub);
        return NULL;
    }
    return hub;
}

int stream_listeners(const struct stream_hub *hub) {
    return atomic_load(&hub->listeners);
}

static void wake(struct stream_hub *hub) {
    uint64_t one = 1;
    ssize_t ignored = write(hub->wake, &one, sizeof one);
    (void)ignored;
}

/* Lets the library have the connection back, which ends it: its reader is called again, says that
 * the stream is over, and the listener is freed by its own callback. */
static void end_listener(struct listener *l) {
    struct stream_hub *hub = l->hub;
    (void)epoll_ctl(hub->epoll, EPOLL_CTL_DEL, l->socket, NULL);
    hub->list[l->place] = hub->list[--hub->count];
    hub->list[l->place]->place = l->place;
    message_release(l->sending);
    message_release(l->waiting);
    l->sending = l->waiting = NULL;
    atomic_fetch_sub(&hub->listeners, 1);
    atomic_store(&l->ended, true);
    MHD_resume_connection(l->connection);
}

static void watch(struct listener *l, bool writing) {
    struct epoll_event event = {.events = EPOLLRDHUP | (writing ? (uint32_t)EPOLLOUT : 0u),
                                .data.ptr = l};
    (void)epoll_ctl(l->hub->epoll, EPOLL_CTL_MOD, l->socket, &event);
}

/* Writes what there is. Returns false where the listener has gone. */
static bool write_listener(struct listener *l) {
    while (l->sending != NULL) {
        size_t from = l->chunked ? 0 : l->sending->plain_at;
        size_t len = l->chunked ? l->sending->len : l->sending->plain_len;
        ssize_t n = send(l->socket, l->sending->bytes + from + l->sent, len - l->sent,
                         MSG_NOSIGNAL | MSG_DONTWAIT);
        if (n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)) {
            watch(l, true);
            return true;
        }
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        l->sent += (size_t)n;
        if (l->sent < len)
            continue;
        message_release(l->sending);
        l->sending = l->waiting;
        l->waiting = NULL;
        l->sent = 0;
        if (l->sending == NULL)
            watch(l, false);
    }
    return true;
}

static void give(struct listener *l, struct message *m) {
    struct message **place = l->sending == NULL ? &l->sending : &l->waiting;
    message_release(*place);
    atomic_fetch_add(&m->refs, 1);
    *place = m;
}

static void join(struct listener *l) {
    struct stream_hub *hub = l->hub;
    struct epoll_event event = {.events = EPOLLRDHUP, .data.ptr = l};
    struct message *hello = message_new(l->hello, l->hello_len);
    struct listener **list = hub->count < hub->cap ? hub->list : NULL;
    if (list == NULL) {
        size_t cap = hub->cap == 0 ? 64 : hub->cap * 2;
        list = realloc(hub->list, cap * sizeof *list);
        if (list != NULL) {
            hub->list = list;
            hub->cap = cap;
        }
    }
    if (list == NULL || hello == NULL ||
        epoll_ctl(hub->epoll, EPOLL_CTL_ADD, l->socket, &event) != 0) {
        message_release(hello);
        atomic_fetch_sub(&hub->listeners, 1);
        atomic_store(&l->ended, true);
        MHD_resume_connection(l->connection);
        return;
    }
    l->place = (int)hub->count;
    hub->list[hub->count++] = l;
    l->sending = hello;
    /* One that is too many has been told to come back later. */
    if (!write_listener(l) || l->held == NULL)
        end_listener(l);
}

/* To all of an event (of all events where `held` is NULL). From the back: ending one moves the
 * last into its place, which has had its turn. */
static void send_all(struct stream_hub *hub, const struct held *held, struct message *m) {
    for (size_t i = hub->count; i-- > 0;) {
        struct listener *l = hub->list[i];
        if (held != NULL && l->held != held)
            continue;
        // NOLINTNEXTLINE(clang-analyzer-unix.Malloc) the caller's own count keeps the message
        give(l, m);
        if (!write_listener(l))
            end_listener(l);
    }
}

static bool take_mail(struct stream_hub *hub) {
    (void)pthread_mutex_lock(&hub->lock);
    struct mail *mail = hub->mail;
    hub->mail = NULL;
    hub->last = &hub->mail;
    bool stopping = hub->stopping;
    (void)pthread_mutex_unlock(&hub->lock);
    while (mail != NULL) {
        struct mail *next = mail->next;
        if (mail->joins != NULL)
            join(mail->joins);
        else
            send_all(hub, mail->held, mail->message);
        message_release(mail->message);
        free(mail);
        mail = next;
    }
    return !stopping;
}

static int64_t milliseconds(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static void *run(void *context) {
    struct stream_hub *hub = context;
    static const char beat[] = "event: beat\ndata: {}\n\n";
    struct epoll_event events[EVENTS_AT_ONCE];
    int64_t next_beat = milliseconds() + BEAT_EVERY_MS;
    for (bool going = true; going;) {
        int64_t rest = next_beat - milliseconds();
        int n = epoll_wait(hub->epoll, events, EVENTS_AT_ONCE, rest > 0 ? (int)rest : 0);
        bool woken = false;
        for (int i = 0; i < n; i++) {
            struct listener *l = events[i].data.ptr;
            if (l == NULL) {
                uint64_t count;
                ssize_t ignored = read(hub->wake, &count, sizeof count);
                (void)ignored;
                woken = true;
            } else if ((events[i].events & (EPOLLRDHUP | EPOLLHUP | EPOLLERR)) != 0 ||
                       !write_listener(l)) {
                end_listener(l);
            }
        }
        /* Only after the events: a listener that they name must still be there. */
        if (woken)
            going = take_mail(hub);
        if (milliseconds() >= next_beat) {
            struct message *m = message_new(beat, sizeof beat - 1);
            if (m != NULL)
                send_all(hub, NULL, m);
            // NOLINTNEXTLINE(clang-analyzer-unix.Malloc) our own count is the last
            message_release(m);
            next_beat = milliseconds() + BEAT_EVERY_MS;
        }
    }
    while (hub->count > 0)
        end_listener(hub->list[hub->count - 1]);
    return NULL;
}

static bool post(struct stream_hub *hub, struct mail *mail) {
    bool taken = false;
    (void)pthread_mutex_lock(&hub->lock);
    if (!hub->started && !hub->stopping)
        hub->started = pthread_create(&hub->thread, NULL, run, hub) == 0;
    if (hub->started && !hub->stopping) {
        mail->next = NULL;
        *hub->last = mail;
        hub->last = &mail->next;
        taken = true;
    }
    (void)pthread_mutex_unlock(&hub->lock);
    if (taken)
        wake(hub);
    return taken;
}

void stream_hub_stop(struct stream_hub *hub) {
    if (hub == NULL)
        return;
    (void)pthread_mutex_lock(&hub->lock);
    hub->stopping = true;
    bool started = hub->started;
    (void)pthread_mutex_unlock(&hub->lock);
    wake(hub);
    if (started)
        (void)pthread_join(hub->thread, NULL);
    hub->started = false;
}

void stream_hub_free(struct stream_hub *hub) {
    if (hub == NULL)
        return;
    if (hub->epoll >= 0)
        (void)close(hub->epoll);
    if (hub->wake >= 0)
        (void)close(hub->wake);
    free(hub->list);
    (void)pthread_mutex_destroy(&hub->lock);
    free(hub);
}

/* The library calls this once the head is sent, and again after the connection was resumed. */
// NOLINTNEXTLINE(readability-non-const-parameter) the type is the library's
static ssize_t read_stream(void *context, uint64_t position, char *bytes, size_t room) {
    struct listener *l = context;
    (void)position;
    (void)bytes;
    (void)room;
    if (atomic_load(&l->ended))
        return MHD_CONTENT_READER_END_WITH_ERROR;
    if (l->told)
        return 0;
    l->told = true;
    struct mail *mail = calloc(1, sizeof *mail);
    if (mail == NULL)
        return MHD_CONTENT_READER_END_WITH_ERROR;
    mail->joins = l;
    MHD_suspend_connection(l->connection);
    if (!post(l->hub, mail)) {
        free(mail);
        atomic_fetch_sub(&l->hub->listeners, 1);
        atomic_store(&l->ended, true);
        MHD_resume_connection(l->connection);
    }
    return 0;
}

static void free_listener(void *context) {
    free(context);
}

/* How long a listener waits before it comes back, ms: each another, so that after a restart they
 * do not all come at once. */
static unsigned retry_ms(void) {
    unsigned random = 0;
    if (getrandom(&random, sizeof random, GRND_NONBLOCK) != (ssize_t)sizeof random)
        random = (unsigned)milliseconds();
    return 3000 + random % 12000;
}

enum MHD_Result stream_open(struct request *r) {
    struct stream_hub *hub = server_streams(r->server);
    const char *last = MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, "Last-Event-ID");
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    struct listener *l = calloc(1, sizeof *l);
    char revision[24];
    if (l == NULL || info == NULL) {
        free(l);
        return MHD_NO;
    }
    l->hub = hub;
    l->connection = r->connection;
    l->held = r->held;
    l->socket = info->connect_fd;
    l->chunked = strcmp(r->version, MHD_HTTP_VERSION_1_0) != 0;
    (void)snprintf(revision, sizeof revision, "%lld", (long long)r->snapshot->open_scene.revision);
    int n;
    if (atomic_fetch_add(&hub->listeners, 1) >= LIMIT_LISTENERS) {
        /* Never 503: that ends an event source for good. It is told to come back in a minute. */
        n = snprintf(l->hello, sizeof l->hello, "retry: 60000\n\n");
        l->held = NULL;
    } else if (last != NULL && strcmp(last, revision) == 0) {
        n = snprintf(l->hello, sizeof l->hello, "retry: %u\n: up to date\n\n", retry_ms());
    } else {
        n = snprintf(l->hello, sizeof l->hello, "retry: %u\nid: %s\ndata: {\"revision\":%s}\n\n",
                     retry_ms(), revision, revision);
    }
    l->hello_len = (size_t)n;
    struct MHD_Response *response =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 1024, read_stream, l, free_listener);
    if (response == NULL) {
        atomic_fetch_sub(&hub->listeners, 1);
        free(l);
        return MHD_NO;
    }
    answer_common_headers(response);
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
    struct message *message = b.len > 0 && !b.failed ? message_new(b.bytes, b.len) : NULL;
    struct mail *mail = message == NULL ? NULL : calloc(1, sizeof *mail);
    textbuf_clear(&b);
    if (mail == NULL) {
        message_release(message);
        return;
    }
    mail->held = held;
    mail->message = message;
    if (!post(hub, mail)) {
        message_release(message);
        free(mail);
    }
}
