/* SPDX-License-Identifier: MIT */
/* awards.h - who takes which prize, in the order in which they are read out: the last prize of the
 * list first, in each the last place first, so that the winner of the first prize is called last.
 * Follows from scores and from `awards` in event.json. */
#ifndef CAIRN_AWARDS_H
#define CAIRN_AWARDS_H

#include "output/output.h"
#include "scoring/standings.h"

/* One call: a crew or team that takes a place, or a prize that nobody takes. */
struct award_call {
    const struct award *award;
    int of;           /* as in struct award; -1 overall, for teams and by column */
    const char *word; /* by column: the word of its cars, borrowed from the entries; NULL */
    int place;        /* among those that can take it, from 1; 0 where nobody takes it */
    bool shared;      /* others have the same place */
    int car;          /* place in the entry list; -1 for teams, and where nobody takes it */
    const struct team_standing *team; /* NULL but for teams */
    int fails;
    int64_t penalty;
};

struct awards {
    const struct scores *scores;
    struct award_call *calls; /* as they are read out */
    int count;
    struct standings *standings[BY_COUNT]; /* those that were needed, of all cars */
    struct standings **among;              /* and of those that prizes are among */
    int among_count;
    struct arena *arena;
};

/* Gives the prizes. Equal crews share a place, and the next place is skipped (1, 2, 2, 4). An award
 * with `once` passes over those who took an earlier one of the list, and counts places among the
 * others; one with `within` is taken by all who are within it. A prize by country, club or make is
 * for placed cars, also those that do not count overall.
 *   scores  borrowed until awards_free, and unchanged until then
 * Returns: ERR_OK or ERR_NOMEM. Owner: the caller. */
int awards_new(const struct scores *scores, struct awards **out);

/* Frees them; NULL is accepted. */
void awards_free(struct awards *awards);

/* The list in each form; each ends with a line end. */
void awards_write_json(struct textbuf *b, const struct awards *awards,
                       const struct output_head *head);
void awards_write_csv(struct textbuf *b, const struct awards *awards);
void awards_write_text(struct textbuf *b, const struct awards *awards,
                       const struct output_head *head);

#endif
