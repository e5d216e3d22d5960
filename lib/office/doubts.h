/* SPDX-License-Identifier: MIT */
/* doubts.h - everything doubtful about the readings of an event, with its evidence and with what
 * would change if it were decided the other way: a list for a person to work through.
 * A car that is too fast here is a doubt about a clock or a car number, and a matter for the clerk
 * of the course; this is not a safety system. */
#ifndef CAIRN_DOUBTS_H
#define CAIRN_DOUBTS_H

#include "office/doubt_id.h"
#include "office/effect.h"
#include "scoring/scoring.h"

struct arena;
struct textbuf;

/* What is doubtful. */
enum doubt_kind {
    DOUBT_DIFFER,  /* readings of one car at one point that nothing replaces differ */
    DOUBT_OUT,     /* read while the car is out of the event, or where its route does not pass */
    DOUBT_ORDER,   /* earlier on the clock than the point before it */
    DOUBT_FAST,    /* an average above the published limit, see check.h */
    DOUBT_MISSING, /* not read, but further on */
    DOUBT_FLAG,    /* the desk put a flag on it */
    DOUBT_UNKNOWN_CAR,   /* a desk's reading of a car that is not in the list */
    DOUBT_NO_CAR,        /* a desk's time without a number */
    DOUBT_UNKNOWN_FAULT, /* a desk told a fault that the test does not name */
    DOUBT_TWICE          /* one time without a number was given to two cars */
};

/* Bounds on what a list costs, for a faulty device can send any number of doubtful readings. */
enum {
    DOUBTS_EVALUATED = 200, /* doubts whose effect is worked out, and that are listed, at once */
    DOUBT_VALUES_MAX =
        8, /* most values of one doubt, beside the one that counts, that are scored */
    DOUBTS_SCORINGS =
        400, /* about how many scorings for all doubts: with many doubts, fewer values of each */
    DOUBT_READINGS_LISTED = 50 /* most readings written with a doubt; the others are counted */
};

/* The word of a kind: "differ", "out", "order", "fast", "missing", "flag", "unknown-car", "no-car",
 * "unknown-fault" or "twice". */
const char *doubt_word(enum doubt_kind kind);

struct doubt {
    char id[DOUBT_ID_LEN + 1]; /* made from the evidence: with other readings it is another */
    enum doubt_kind kind;
    int car; /* -1 of a reading without a car of the list */
    int point;
    int against; /* the point that it is compared with; -1 where there is none, and for the day's
                    start */
    const struct reading *reading; /* the one that counts or would; NULL where there is none */
    const char *why;               /* for people */
    bool acknowledged;             /* for the caller to set: somebody has seen it */
    bool ruled;                    /* a cancel, notional or waive holds there */
    int places;                    /* cars that would change place; see doubts_evaluate */
    /* What would move if another reading counted (the one that moves most), the reading did not
     * count, the car were not out, or the missing point were waived. */
    struct effect effect;
};

struct doubts {
    const struct scores *scores;
    struct doubt *list; /* open ones first, then readings without a car, then by kind, route and
                           number; see doubts_evaluate */
    int count;
    int evaluated; /* how many of the first have their effect; 0 before doubts_evaluate */
    int scorings;  /* how many that took */
    size_t cap;
    struct arena *arena;
};

/* Finds the doubts of an event as it was scored. What each doubt would move is not worked out yet.
 *   scores  borrowed until doubts_free, and unchanged until then
 * Returns: ERR_OK or ERR_NOMEM. Owner: the caller. */
int doubts_new(const struct scores *scores, struct doubts **out);

/* Leaves out those that are acknowledged and not open, works out the effect of the first
 * DOUBTS_EVALUATED of the rest, and puts those of them that move most places first, then those
 * without a car, then by kind, route and number. To be called once.
 * Returns: ERR_OK or ERR_NOMEM. */
int doubts_evaluate(struct doubts *doubts);

/* Frees them; NULL is accepted. */
void doubts_free(struct doubts *doubts);

/* True where the contract counts the row as doubtful and no ruling settles the point: a final
 * classification waits for it. */
bool doubt_is_open(const struct doubt *doubt);

/* The number of its car as the reading has it, which need not be in the list; 0 where it has none.
 */
int64_t doubt_number(const struct event *event, const struct doubt *doubt);

/* The order of two doubts that move as many places. */
int doubts_compare(const struct doubt *a, const struct doubt *b);

/* The doubts that were evaluated, as a JSON array: each with the readings of its point, the one
 * that counts and the latest others, DOUBT_READINGS_LISTED at most, and how many there are. */
void doubts_write_json(struct textbuf *b, const struct doubts *doubts);

#endif
