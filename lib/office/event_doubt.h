/* SPDX-License-Identifier: MIT */
/* event_doubt.h - doubts about event.json, each with its place there: what the parts of `cairn
 * check` share. Texts are borrowed; where memory is out, the problems say so. What was told of an
 * item's own values is not told again of the lines of its `for`. */
#ifndef CAIRN_EVENT_DOUBT_H
#define CAIRN_EVENT_DOUBT_H

struct problems;

/* Where a value of an item stands: in the item's own, or in a line of its `for`. */
struct value_place {
    int item; /* on the route, from 0 */
    int line; /* of `for`, from 0; -1 its own */
};

/* Adds a doubt about a value of an item.
 *   part  its place in the item, ".checks[2].penalty"; "" for the item, or the line, as a whole
 *   text  what is doubtful and what to do about it */
void event_doubt_at(struct problems *problems, struct value_place at, const char *part,
                    const char *text);

/* Adds a doubt about anything else.
 *   key    "scoring.finisher"; of a list, "awards"
 *   index  of the list's member, from 0; -1 where it is no list
 *   part   the place in that, ".of"; "" as a whole */
void event_doubt(struct problems *problems, const char *key, int index, const char *part,
                 const char *text);

#endif
