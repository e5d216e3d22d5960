/* SPDX-License-Identifier: MIT */
/* notice_draft.h - a notice before it is sealed: what it would say, and what stands in its way.
 * Both follow from a snapshot and its notice board, so that an organiser can see them beforehand;
 * the writer makes them again when it posts. Any thread that holds the snapshot. */
#ifndef CAIRN_NOTICE_DRAFT_H
#define CAIRN_NOTICE_DRAFT_H

#include "base/textbuf.h"
#include "live/snapshot.h"
#include "store/stored_notices.h"

enum obstacle_kind {
    OBSTACLE_HIDDEN,         /* a test is still hidden from the public */
    OBSTACLE_NO_PROVISIONAL, /* no classification was posted yet */
    OBSTACLE_PROTEST_PERIOD, /* that of notice `number` has not ended */
    OBSTACLE_CASE,           /* enquiry or protest `number` is not answered */
    OBSTACLE_OPEN_POINT,     /* cars may still be read there */
    OBSTACLE_DOUBT           /* a reading is doubtful, and nobody ruled */
};

/* The word of a kind: "hidden", "no-provisional", "protest-period", "case", "open-point" or
 * "doubt". */
const char *obstacle_word(enum obstacle_kind kind);

struct obstacle {
    enum obstacle_kind kind;
    int64_t number;    /* of a notice or a case; 0 */
    int64_t car;       /* its number; 0 */
    const char *point; /* a point, or a test that is hidden; NULL */
    char *text;        /* a line for people */
};

/* Of the readings that are doubtful the first DOUBTS_TOLD are in the list. */
enum { DOUBTS_TOLD = 200 };
struct obstacles {
    struct obstacle *list;
    size_t count, cap;
    size_t doubts; /* all of them, listed or not */
};

/* What stands in the way of a classification.
 *   board  the notices and cases that are in force
 *   s      its results are scored; borrowed: points name what is in it
 *   final  false: of a provisional one, for which only nothing may be hidden
 *   now    ms since 1970
 *   out    gets the list, empty where nothing does; to be freed by obstacles_clear, also on failure
 * Returns: ERR_OK or ERR_NOMEM. */
int obstacles_find(const struct noticeboard *board, const struct snapshot *s, bool final,
                   int64_t now, struct obstacles *out);
void obstacles_clear(struct obstacles *obstacles);

/* The last classification on a board, NULL where there is none; `board` may be NULL. */
const struct stored_notice *notice_draft_last_classification(const struct noticeboard *board);

/* One notice while it is being made. */
struct notice_draft {
    struct stored_notice notice; /* without seal and `made_from`; texts belong to the draft but for
                                    kind, title and body, which are the caller's */
    struct textbuf posted;
    struct textbuf until;
};

/* What is asked to be posted. Texts are borrowed until notice_draft_clear. */
struct notice_draft_request {
    const char *slug;
    const char *kind;  /* "bulletin", "provisional" or "final" */
    const char *title; /* "": that of its kind */
    const char *text;
};

/* Makes a notice with its number, the end of its protest period and its content.
 *   draft  is to be freed by notice_draft_clear, also on failure
 * Returns: ERR_OK; ERR_INPUT where the notice that it replaces does not read; ERR_NOMEM. */
int notice_draft_make(const struct notice_draft_request *request, const struct noticeboard *board,
                      const struct snapshot *s, int64_t now, struct notice_draft *draft);
void notice_draft_clear(struct notice_draft *draft);

#endif
