/* SPDX-License-Identifier: MIT */
/* crowd.h - who is in the crowd, and what the crowd as a whole knows and counts. */
#ifndef CAIRN_TESTS_CROWD_H
#define CAIRN_TESTS_CROWD_H

#include <netinet/in.h>
#include <stddef.h>
#include <stdint.h>

enum {
    READERS = 96,
    HEAD_ROOM = 2048,
    LINE_ROOM = 32,
    PACKED_FROM = 1000, /* bytes that a body has at least to come packed */
    PATHS_MAX = 256,
    TIMES_MAX = 1 << 20,
    SILENCE_US = 75000000, /* a stream is heard at least each 30 seconds */
    READ_US = 20000000,    /* a read that takes longer is given up */
    RETURN_US = 1500000,   /* those who were cut off come back within */
};

enum state { AWAY, CONNECTING, OPEN, BUSY };

/* Where a body in chunks is: in the size of one, in its bytes, in the line end after them, at the
 * end after the last. */
enum chunk { SIZE, BYTES, AFTER, LAST };

struct connection {
    int fd;
    enum state state;
    int cached; /* goes through the cache */
    int listens;
    int64_t due; /* AWAY: when to come back; else when it last moved */
    size_t len;  /* of head */
    char head[HEAD_ROOM];
    size_t line_len; /* of the line that a listener is in */
    char line[LINE_ROOM];
    int in_body;
    int chunked;
    enum chunk chunk;
    long long body_left; /* of the answer, or of the chunk */
    int path;
    int64_t asked;
    long long floor;    /* what the answer's revision must reach */
    long long coming;   /* a listener: revision of the message that it is in */
    long long revision; /* a listener: of the last whole message */
};

struct crowd {
    struct sockaddr_in servers[2];
    uint32_t source;
    uint32_t sources;
    uint32_t next_source;
    const char *event;
    char **paths;
    size_t path_count;
    char tags[2][PATHS_MAX][96];
    struct connection *all;
    int count, listeners;
    int next_reader;
    int epoll;
    unsigned seed;
    int64_t calm;   /* since when; 0 in a storm */
    long long seen; /* the highest revision that a direct read told */
    int64_t *times;
    size_t time_count;
    long long messages, reads, same, busy, gone, lost, late, wrong, bytes;
};

/* A number from 0 to below `below`. */
int64_t dice(struct crowd *w, int64_t below);

/* Counts what must never happen, and tells the first of it on standard error. */
void complain(struct crowd *w, const struct connection *c, const char *what);

/* Closes a connection, which comes back within RETURN_US; `lose` counts it as lost, too. */
void leave(struct crowd *w, struct connection *c);
void lose(struct crowd *w, struct connection *c);

/* Takes bytes that came on a connection: heads, bodies with or without chunks, stream messages. */
void take_answer(struct crowd *w, struct connection *c, const char *bytes, size_t n);

#endif
