/* SPDX-License-Identifier: MIT */
/* hard_limits.h - every hard limit of the server, in one place. */
#ifndef CAIRN_HARD_LIMITS_H
#define CAIRN_HARD_LIMITS_H

enum {
    LIMIT_EVENTS = 256,            /* event files held at once */
    LIMIT_BODY_READINGS = 4 << 20, /* bytes of a posted body */
    LIMIT_BODY_DECISIONS = 1 << 20,
    LIMIT_BODY_DOCUMENT = 4 << 20,
    LIMIT_BODY_STARTS = 64 << 10,
    LIMIT_BODY_NOTICE = 64 << 10,
    LIMIT_BODY_HEARD = 32 << 20,      /* of a body that is refused, read to its end */
    LIMIT_ROWS = 50000,               /* rows of one body */
    LIMIT_QUEUE = 4096,               /* writes that wait, in all */
    LIMIT_QUEUE_EVENT = 2048,         /* and for one event */
    LIMIT_QUEUE_KEPT = 512,           /* of either, kept for readings */
    LIMIT_CONNECTIONS = 12000,        /* under TLS with the streams, else without; see open_files */
    LIMIT_CONNECTIONS_ADDRESS = 3000, /* of one address, streams among them; see connections.h */
    LIMIT_IDLE_SECONDS = 60,          /* until the head of the next request is there */
    LIMIT_HEAD_SECONDS = 30,          /* until the head of a connection's first request is there */
    LIMIT_HEAD_CROWDED_SECONDS = 5,   /* the same while the connections are running out */
    LIMIT_BODY_SECONDS = 120,         /* from there until its body is there */
    LIMIT_CONNECTION_BYTES = 8192,    /* the HTTP library's memory for one connection */
    /* Rendered answers kept for the office's or the public's results of a snapshot: those that many
     * ask for, and all others. */
    LIMIT_CACHE_BYTES = 1 << 20,
    LIMIT_CACHE_OTHER_BYTES = 1 << 19,
    LIMIT_ANSWER_LARGE = 256 << 10, /* bytes from which an answer is made in one coding only */
    LIMIT_LARGE_BYTES = 64 << 20,   /* of such answers, in all that is being sent or kept */
    LIMIT_BODY_AT_ONCE = 64 << 10,  /* of a write that is taken apart without a worker */
    /* What waits to be made, see worker_pool.h. */
    LIMIT_TASKS_KEYED = 256,
    LIMIT_TASKS_PUBLIC = 256,
    LIMIT_TASKS_EXPENSIVE = 64,
    LIMIT_TASKS_PAPER = 16,
    LIMIT_TASKS_STOP_MS = 500,    /* when the server ends, for what waits and is not expensive */
    LIMIT_TASKS_ADDRESS = 4,      /* of one address of the public, under way among them */
    LIMIT_PAPER_MEMORY = 1 << 30, /* bytes of address space of the process that draws it */
    LIMIT_PAPER_SECONDS = 20,     /* of processor time for a paper to be drawn */
    LIMIT_PAPER_PATIENCE = 120,   /* seconds of time that pass, however busy the machine is */
    LIMIT_WRITER_SECONDS = 10,    /* on one batch before an event is said to be unwritable */
    LIMIT_LISTENERS = 10000,      /* event streams in all */
    LIMIT_KEY_FAILURES = 10,      /* wrong keys from one address a minute before 429 */
    /* Wrong codes a minute for a car from an address that has shown its right one: 41 bits hold
     * for 700 years at that rate. */
    LIMIT_KNOWN_FAILURES = 3000,
    LIMIT_DESKS = 512,      /* timekeepers' desks whose reports are kept, in all events */
    LIMIT_BODY_DESK = 4096, /* bytes of such a report */
    LIMIT_BODY_KEY = 4096,
    LIMIT_BODY_CREW = 16 << 10,  /* of what a crew asks, each sign perhaps escaped */
    LIMIT_CREW_TEXT = 1000,      /* characters of it */
    LIMIT_OPEN_CASES = 20,       /* of one car before its crew must wait */
    LIMIT_WAITING_TOLD = 100,    /* readings without a car that a desk is told of a point */
    LIMIT_REFUSALS_KEPT = 1000,  /* refused rows of one upload kept each by itself */
    LIMIT_REFUSALS_TOLD = 500,   /* refused rows in one answer, the latest */
    LIMIT_READINGS_PAGE = 20000, /* readings in one answer */
    LIMIT_LOG_PAGE = 500         /* entries of the log in one answer */
};

#endif
