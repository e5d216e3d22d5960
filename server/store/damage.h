/* SPDX-License-Identifier: MIT */
/* damage.h - stored facts that do not read, or are not as they were taken: counted and named.
 * A plain value; damage_clear frees what it owns. One owner at a time. */
#ifndef CAIRN_DAMAGE_H
#define CAIRN_DAMAGE_H

#include <stddef.h>
#include <stdint.h>

struct textbuf;

/* So many are named; all are counted. */
enum { DAMAGE_NAMED_MAX = 100 };

struct damaged_fact {
    const char *table; /* of the event file; static */
    int64_t row;       /* its key there; 0 where it is the table or the file as a whole */
    char *id;          /* the fact's own id, "" where it has none */
    char *reason;      /* in words */
};

struct damage {
    struct damaged_fact *list;
    size_t named; /* in the list */
    int64_t found;
};

/* Counts one fact, once for each table and row that is named.
 *   table, row, id, reason  as above; id and reason are copied, with "?" for what is no text in
 *                           them. Without memory it is counted and not named. */
void damage_add(struct damage *damage, const char *table, int64_t row, const char *id,
                const char *reason);

/* Adds what another one tells of. */
void damage_add_all(struct damage *damage, const struct damage *from);

/* Appends one fact in words, without an end of line: "reading row 12 (id desk-7): reason". */
void damage_write(struct textbuf *b, const struct damaged_fact *fact);

/* Frees; `damage` is then as good as new. */
void damage_clear(struct damage *damage);

#endif
