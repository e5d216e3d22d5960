/* SPDX-License-Identifier: MIT */
/* contents.h - what the papers of an event say. Each is made from the JSON that the API answers, so
 * that paper, page and API cannot differ. One owner of a document at a time. */
#ifndef CAIRN_CONTENTS_H
#define CAIRN_CONTENTS_H

#include <jansson.h>
#include <stdbool.h>

#include "event/entries.h"
#include "paper/paper.h"
#include "system/words.h"

/* Each adds to a document; `answer` is what the API answers, borrowed.
 * Standings of any grouping; a notice's content with all its tables, decisions and differences; a
 * day's start list with room for remarks; a car's card with the reason of every figure; prizes as
 * they are read out.
 *   clubs  the event's teams are clubs, and are called so */
void contents_standings(struct paper_doc *doc, const json_t *answer, bool clubs);
void contents_notice(struct paper_doc *doc, const json_t *content, bool clubs);
void contents_starts(struct paper_doc *doc, const json_t *answer);
void contents_card(struct paper_doc *doc, const json_t *answer);
void contents_prizes(struct paper_doc *doc, const json_t *answer);

/* The codes of crews, a strip each to cut off.
 *   cards  what the addresses of cards begin with, "https://HOST/SLUG/cars/"; "" where not known */
void contents_codes(struct paper_doc *doc, const json_t *answer, const char *cards);

/* A timekeeper's sheet, what stands before the control sheet. Texts are borrowed. */
struct desk_sheet {
    enum lang lang;
    const char *link;  /* to the desk, "https://HOST/SLUG/control#KEY" */
    const char *phone; /* of the office; "" for a line to write it on */
    bool holds_key;    /* the link opens the desk by itself */
};
void contents_desk(struct paper_doc *doc, const struct desk_sheet *sheet);

/* A control sheet: the cars of a point in the order in which they are due, with boxes to write in
 * and rows for cars that nobody expects. What was read already is filled in.
 *   entries  who the cars are
 *   faults   the names of those that can be told there, "stop, wrong-way"; "" says nothing of them
 */
void contents_control(struct paper_doc *doc, const json_t *answer, const struct entries *entries,
                      const char *faults);

/* For an event that shows penalties as time: writes them so wherever the answer has them, with the
 * fails of a row in words beside its penalty.
 *   value  the answer, borrowed, and changed
 * Returns: ERR_OK or ERR_NOMEM. */
int contents_show_times(json_t *value);

/* For the papers' own files: a member as text, "" where it is null or not there. */
const char *contents_member(const json_t *object, const char *name);

/* Adds a cell: a member of an object that is a text or a whole number, empty where it is null; or
 * the member "crew", as "A / B". */
void contents_cell(struct paper_doc *doc, const json_t *object, const char *name);
void contents_crew_cell(struct paper_doc *doc, const json_t *object);

/* True where one of the rows has fails. */
bool contents_any_fails(const json_t *rows);

#endif
