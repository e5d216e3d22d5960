/* SPDX-License-Identifier: MIT */
/* damaged_facts.h - stored facts that do not read, or are not as they were taken: counted and
 * named. A plain value; damaged_facts_clear frees what it owns. One owner at a time. */
#ifndef CAIRN_DAMAGED_FACTS_H
#define CAIRN_DAMAGED_FACTS_H

#include <stddef.h>
#include <stdint.h>

struct textbuf;

/* So many are named; all are counted. */
enum { DAMAGED_LISTED_MAX = 100 };

struct damaged_fact {
    const char *table; /* of the event file; static */
    int64_t row;       /* its key there; 0 where it is the table or the file as a whole */
    char *id;          /* the fact's own id, "" where it has none */
    char *reason;      /* in words */
};

struct damaged_facts {
    struct damaged_fact *list;
    size_t listed; /* in the list */
    int64_t count; /* all of them */
};

/* Counts one fact, once for each table and row that is named.
 *   table, row, id, reason  as above; id and reason are copied, with "?" for what is no text in
 *                           them. Without memory it is counted and not named. */
void damaged_facts_add(struct damaged_facts *damage, const char *table, int64_t row, const char *id,
                       const char *reason);

/* Adds all facts of another list. */
void damaged_facts_add_all(struct damaged_facts *damage, const struct damaged_facts *from);

/* Appends one fact in words, without an end of line: "reading row 12 (id desk-7): reason". */
void damaged_fact_write(struct textbuf *b, const struct damaged_fact *fact);

/* Frees; `damage` is then as good as new. */
void damaged_facts_clear(struct damaged_facts *damage);

#endif
