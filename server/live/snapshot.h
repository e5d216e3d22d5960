/* SPDX-License-Identifier: MIT */
/* snapshot.h - one event at one revision, immutable, held by count.
 * The writer makes a snapshot and swaps it in; readers take hold of the current one without a
 * lock, read as long as they like, and let it go. What they hold leads to nothing that the writer
 * changes: the model that it adds to is kept alive for them, but is known to the writer alone
 * (shared_model.h). */
#ifndef CAIRN_SNAPSHOT_H
#define CAIRN_SNAPSHOT_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#include "scoring/scoring.h"
#include "store/code_book.h"
#include "store/stored_enquiries.h"
#include "store/stored_keys.h"
#include "store/stored_notices.h"

/* The documents that a model was read from, as they were sent. */
struct sent_document {
    char *text; /* NULL where there is none */
    size_t len;
};

struct documents {
    struct sent_document rules, entries, starts;
};

struct shared_model;

/* What the decisions come to, and the two views that follow from it. */
struct ruling_set {
    atomic_int refs;
    struct shared_model *model; /* keeps alive what the rest points at */
    const struct documents *documents;
    struct rulings *rulings;
    struct event event; /* the event that the views were made for; its decisions are the set's */
    struct view *office_view;
    struct view *public_view;
    bool hides; /* the public view leaves something out */
};

/* Who may write: keys, and what the codes of crews are made from. */
struct keyring {
    atomic_int refs;
    struct stored_key *keys;
    size_t count;
    struct code_book codes;
};

struct noticeboard {
    atomic_int refs;
    struct stored_notice *list;
    size_t count;
    struct stored_enquiry *enquiries;
    size_t enquiry_count;
};

struct cache;

/* The event as the office or the public sees it. */
struct results {
    const struct view *view;
    struct scores *scores;
    bool borrowed;       /* the scores are the office's: nothing is hidden, so both are the same */
    struct cache *cache; /* rendered answers */
    int64_t revision;
    int64_t changed_ms; /* when that revision was committed */
};

struct snapshot {
    atomic_int refs;
    struct event event;
    struct ruling_set *set;
    struct keyring *keys;
    struct noticeboard *notices;
    struct results office_results;
    struct results public_results; /* what the public sees */
};

/* Where the current snapshot of an event stands. */
struct snapshot_slot {
    _Atomic(struct snapshot *) current;
};

/* An empty snapshot with one hold on it, for the writer to fill; NULL when memory is out. */
struct snapshot *snapshot_new(void);

/* One hold more on a snapshot that is held. Gives back its argument. */
struct snapshot *snapshot_hold(struct snapshot *snapshot);

/* Takes hold of the current snapshot, NULL where the slot is empty; never waits for the writer. Let
 * it go with snapshot_release. Any thread. */
struct snapshot *snapshot_acquire(struct snapshot_slot *slot);
void snapshot_release(struct snapshot *snapshot);

/* Puts a new snapshot (whose count is 1, for the slot) in place, and lets the old one go once no
 * reader is in the middle of taking hold of it. For the writer. `next` NULL empties the slot. */
void snapshot_swap(struct snapshot_slot *slot, struct snapshot *next);

/* Counted parts. `_hold` gives back its argument. */
struct ruling_set *ruling_set_hold(struct ruling_set *set);
void ruling_set_release(struct ruling_set *set);
struct keyring *keyring_hold(struct keyring *keyring);
void keyring_release(struct keyring *keyring);
struct noticeboard *noticeboard_hold(struct noticeboard *board);
void noticeboard_release(struct noticeboard *board);

/* Makes them; each takes over what it is given, also on failure. NULL when memory is out. */
struct ruling_set *ruling_set_new(struct shared_model *model);
struct keyring *keyring_take(struct stored_key *keys, size_t count, struct code_book *codes);
struct noticeboard *noticeboard_take(struct stored_notice *list, size_t count,
                                     struct stored_enquiry *enquiries, size_t enquiry_count);

#endif
