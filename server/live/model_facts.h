/* SPDX-License-Identifier: MIT */
/* model_facts.h - readings and decisions by the same functions, for what is done alike with every
 * fact: both are logs of facts that are only ever added, each with an id and the fields that make
 * up what it says. One owner of the model at a time. */
#ifndef CAIRN_MODEL_FACTS_H
#define CAIRN_MODEL_FACTS_H

#include "event/event.h"
#include "scoring/view.h"

struct store;

enum fact_kind { FACT_READING, FACT_DECISION, FACT_KIND_COUNT };

/* One fact of a model, borrowed from it. */
struct fact {
    enum fact_kind kind;
    const char *id;
    const char *const *fields; /* those that make up what it says, as written */
    int field_count;
    long line; /* of the file that it was read from; 0 where that is not known */
    const struct reading *reading;   /* NULL for a decision */
    const struct decision *decision; /* NULL for a reading */
};

/* "reading" or "decision"; "readings" or "decisions". */
const char *fact_word(enum fact_kind kind);
const char *facts_word(enum fact_kind kind);

/* The facts of a kind in the order of arrival. */
int facts_count(const struct model *model, enum fact_kind kind);
struct fact facts_at(const struct model *model, enum fact_kind kind, int index);

/* The index of the fact of that kind and id, -1 where there is none. */
int facts_find(const struct model *model, enum fact_kind kind, const char *id);

/* Adds a fact of another model; facts_try only tells what would come of that.
 *   reason  gets why it is refused */
enum fact_result facts_add(struct model *model, const struct fact *fact, struct textbuf *reason);
enum fact_result facts_try(const struct model *model, const struct fact *fact,
                           struct textbuf *reason);

/* Whether a fact of `model` shows in a view. */
bool facts_show(const struct view *view, const struct model *model, const struct fact *fact);

/* Adds a fact to an event file; see store.h. */
int facts_store(struct store *store, const struct fact *fact, int64_t upload_id);

/* True where a fact of `there` is not in `next`, and would not be taken there.
 *   reason  is emptied, and then gets why not */
bool facts_lost(const struct fact *fact, const struct model *next, struct textbuf *reason);

#endif
