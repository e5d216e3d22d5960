/* SPDX-License-Identifier: MIT */
/* refusal.h - why requests are refused, in few classes that /metrics counts. Any thread. */
#ifndef CAIRN_REFUSAL_H
#define CAIRN_REFUSAL_H

enum refusal {
    REFUSAL_NONE,
    REFUSAL_BAD_REQUEST,
    REFUSAL_NO_KEY,    /* none, or a wrong one */
    REFUSAL_GUESSING,  /* too many wrong keys from one address */
    REFUSAL_WRONG_KEY, /* a key that may not do this */
    REFUSAL_NOT_FOUND,
    REFUSAL_WRONG_METHOD,
    REFUSAL_NOT_YET, /* something stands in the way */
    REFUSAL_STALE,   /* somebody was first */
    REFUSAL_TOO_LARGE,
    REFUSAL_MEDIA_TYPE,
    REFUSAL_BAD_DOCUMENT,
    REFUSAL_OTHER,
    REFUSAL_QUEUE_FULL, /* too many writes wait */
    REFUSAL_BUSY,       /* too many answers wait to be made */
    REFUSAL_CROWDED,    /* too many connections */
    REFUSAL_STOPPING,   /* the server ends */
    REFUSAL_MACHINE,    /* a write could not be stored, or memory is out */
    REFUSAL_COUNT
};

/* The class of an answer's status, where nothing closer is known; REFUSAL_NONE below 400. */
enum refusal refusal_of(unsigned status);

/* Its name in /metrics: lower case letters and "-". */
const char *refusal_word(enum refusal refusal);

#endif
