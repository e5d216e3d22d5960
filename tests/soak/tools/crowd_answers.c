/* SPDX-License-Identifier: MIT */
/* What comes to the crowd: answers to reads and the messages of streams, each checked as it comes.
 */
#include "crowd.h"

#include <stdlib.h>
#include <string.h>

#include "measures.h"

/* A field of the head, NULL where it has none. */
static const char *field(const struct connection *c, const char *name) {
    const char *found = strcasestr(c->head, name);
    return found == NULL ? NULL : found + strlen(name);
}

/* The head of an answer to a read is there. */
static void read_head(struct crowd *w, struct connection *c, int status) {
    const char *tag = field(c, "\r\netag: ");
    if (status == 200 && tag != NULL) {
        size_t n = strcspn(tag, "\r");
        if (n < sizeof w->tags[0][0]) {
            memcpy(w->tags[c->cached][c->path], tag, n);
            w->tags[c->cached][c->path][n] = '\0';
        }
    }
    if (status == 304)
        w->same++;
    else if (status == 503)
        w->busy++;
    else if (status != 200)
        complain(w, c, "status");
    else if (field(c, "\r\ncontent-length:") == NULL && !c->chunked)
        complain(w, c, "no length");
    else if (c->path != 0 && c->body_left >= PACKED_FROM &&
             field(c, "\r\ncontent-encoding: gzip") == NULL)
        complain(w, c, "not packed");
}

/* The head of a stream is there. */
static void stream_head(struct crowd *w, struct connection *c, int status) {
    if (status == 503) {
        w->busy++;
        leave(w, c);
    } else if (status != 200) {
        complain(w, c, "status of a stream");
        lose(w, c);
    }
}

/* A whole answer is there. */
static void read_ends(struct crowd *w, struct connection *c) {
    int64_t took = microseconds() - c->asked;
    w->reads++;
    if (w->calm > 0 && c->asked >= w->calm && w->time_count < TIMES_MAX)
        w->times[w->time_count++] = took;
    c->state = OPEN;
    c->due = microseconds();
    if (field(c, "\r\nconnection: close") != NULL)
        leave(w, c);
}

/* The event's own page in JSON tells the revision early in its body. */
static void look_at_revision(struct crowd *w, const struct connection *c, const char *body,
                             size_t len) {
    const char *found = memmem(body, len, "\"revision\":", 11);
    if (c->path != 0 || c->cached || c->listens || found == NULL)
        return;
    long long revision = strtoll(found + 11, NULL, 10);
    if (revision < c->floor)
        complain(w, c, "the revision falls");
    if (revision > w->seen)
        w->seen = revision;
}

/* A line of a stream: which revision a message is; an empty one ends the message. */
static void line_ends(struct crowd *w, struct connection *c) {
    c->line[c->line_len] = '\0';
    if (strncmp(c->line, "id: ", 4) == 0)
        c->coming = strtoll(c->line + 4, NULL, 10);
    if (c->line_len == 0 && c->coming >= 0) {
        if (c->coming < c->revision)
            complain(w, c, "the stream's revision falls");
        c->revision = c->coming;
        c->coming = -1;
        w->messages++;
    }
    c->line_len = 0;
}

/* Bytes of the content, framing set aside. */
static void content(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    if (!c->listens)
        return;
    for (size_t i = 0; i < n; i++) {
        if (bytes[i] == '\n')
            line_ends(w, c);
        else if (c->line_len < LINE_ROOM - 1)
            c->line[c->line_len++] = bytes[i];
    }
}

/* Takes the framing of chunks off, piece by piece. Returns 1 at the end of the body. */
static int unchunk(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    while (n > 0) {
        if (c->chunk == BYTES) {
            size_t take = (long long)n < c->body_left ? n : (size_t)c->body_left;
            content(w, c, bytes, take);
            c->body_left -= (long long)take;
            bytes += take;
            n -= take;
            c->chunk = c->body_left == 0 ? AFTER : BYTES;
            continue;
        }
        char byte = *bytes++;
        n--;
        if (c->chunk == SIZE && byte != '\n') {
            char digit[2] = {byte, '\0'};
            if (byte != '\r')
                c->body_left = c->body_left * 16 + strtol(digit, NULL, 16);
        } else if (c->chunk == SIZE) {
            c->chunk = c->body_left == 0 ? LAST : BYTES;
        } else if (byte == '\n') {
            if (c->chunk == LAST)
                return 1;
            c->chunk = SIZE;
            c->body_left = 0;
        }
    }
    return 0;
}

/* Bytes of the body, framing and all. */
static void body(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    int ended = 0;
    if (c->chunked) {
        ended = unchunk(w, c, bytes, n);
    } else {
        content(w, c, bytes, n);
        if (c->listens) /* until the connection ends */
            return;
        c->body_left -= (long long)n;
        if (c->body_left < 0)
            complain(w, c, "more than the length");
        ended = c->body_left <= 0;
    }
    if (ended && c->listens)
        lose(w, c);
    else if (ended)
        read_ends(w, c);
}

void take_answer(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    c->due = microseconds();
    if (!c->listens && c->state != BUSY) {
        complain(w, c, "bytes that nobody asked for");
        lose(w, c);
        return;
    }
    if (!c->in_body) {
        size_t room = sizeof c->head - 1 - c->len;
        size_t take = n < room ? n : room;
        memcpy(c->head + c->len, bytes, take);
        c->head[c->len + take] = '\0';
        char *end = memmem(c->head, c->len + take, "\r\n\r\n", 4);
        if (end == NULL && take < n) {
            complain(w, c, "a long head");
            lose(w, c);
        }
        if (end == NULL) {
            c->len += take;
            return;
        }
        size_t used = (size_t)(end - c->head) + 4 - c->len;
        end[2] = '\0';
        c->in_body = 1;
        int status = strncmp(c->head, "HTTP/1.1 ", 9) == 0 ? (int)strtol(c->head + 9, NULL, 10) : 0;
        const char *length = field(c, "\r\ncontent-length:");
        c->chunked = field(c, "\r\ntransfer-encoding: chunked") != NULL;
        c->chunk = SIZE;
        c->body_left =
            status != 304 && length != NULL && !c->chunked ? strtoll(length, NULL, 10) : 0;
        if (c->listens)
            stream_head(w, c, status);
        else
            read_head(w, c, status);
        if (c->state == AWAY)
            return;
        bytes += used;
        n -= used;
        look_at_revision(w, c, bytes, n);
    }
    body(w, c, bytes, n);
}
