/* SPDX-License-Identifier: MIT */
/* checks_and_pads.h - checks and pads: points of a test compared with an ideal time from its start
 * or from the point before. What regularities and set-time tests share. Source: the contract,
 * "regularity" and "set-time". */
#ifndef CAIRN_CHECKS_AND_PADS_H
#define CAIRN_CHECKS_AND_PADS_H

#include "scoring/explain.h"
#include "scoring/score_sheet.h"

struct json_place;
struct json_reader;
struct json_t;

/* What event.json says of both kinds. */
struct checks_and_pads {
    bool from_previous;  /* measured: previous */
    bool loses_next;     /* lost: next-too */
    bool start_control;  /* start: control, where the start is not read */
    int64_t start_after; /* ms from that control to the start */
    int count;           /* of checks or pads */
    int64_t *ideals; /* ms from the start to check or pad n; ideals[0] is 0, that of one which is
                      * off the route as of the one before */
};

/* Of an item of either kind, whose own part begins with it. */
static inline const struct checks_and_pads *checks_and_pads_of(const struct item *item) {
    return item->own;
}

/* Reads the keys "measured", "start" and "start_after", and into the item "finish" and "target".
 *   previous  what holds where "measured" is not given */
void checks_and_pads_read(const struct json_reader *reader, const struct json_t *object,
                          const struct json_place *place, bool previous, struct item *item,
                          struct checks_and_pads *out);

/* The rule of check or pad n, from 1. */
static inline const struct penalty_rule *checks_and_pads_rule(const struct item *item, int n) {
    return item_rule(item, item->first_scored + n - 1);
}

/* Reads the "penalty" of check or pad n, where it has one.
 *   object  the check or pad, of `count` */
void checks_and_pads_read_rule(const struct json_reader *reader, const struct json_t *object,
                               const struct json_place *place, int n, size_t count,
                               struct item *item);

/* True where check or pad n is null in a copy of the item: not on the route of the cars for whom
 * the copy is, which the copy is told. In the item itself null is as wrong as any other value.
 *   value  the check or pad, of `count` */
bool checks_and_pads_is_off(const struct json_reader *reader, const struct json_t *value, int n,
                            size_t count, struct item *item);

/* Lays out ID/start and ID/1 .. ID/n. */
int checks_and_pads_lay_out(struct rules *rules, int item);

/* Scores every check or pad. */
void checks_and_pads_score(struct score_sheet *sheet, const struct item *item);

/* Writes where a check was measured from: "Start 10:00:05 ". */
void checks_and_pads_explain_base(struct textbuf *b, const struct explain_context *context,
                                  const struct scored_point *sp);

/* The pad before number `n` with which that one is lost too (lost: next-too); 0 where there is
 * none. */
int checks_and_pads_lost_before(const struct score_sheet *sheet, const struct item *item, int n);

/* Writes due time, passage and cost; base and ideal are written before it. */
void checks_and_pads_explain_rest(struct textbuf *b, const struct explain_context *context,
                                  const struct scored_point *sp);

#endif
