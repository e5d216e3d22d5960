/* SPDX-License-Identifier: MIT */
/* stored_notices.h - notices as they were posted, with their seals. See store.h for results and
 * threads. */
#ifndef CAIRN_STORED_NOTICES_H
#define CAIRN_STORED_NOTICES_H

#include <stddef.h>
#include <stdint.h>

#include "base/seal.h"

struct store;

/* A notice; its seal is that of `content`. */
struct stored_notice {
    int64_t number;    /* from 1, without gaps */
    int64_t posted_ms; /* since 1970 */
    char *title;
    char *body;
    char *kind;               /* "bulletin", "provisional" or "final" */
    char *content;            /* canonical JSON; NULL of a notice made before there were seals */
    struct seal seal;         /* where there is content */
    int64_t protest_until_ms; /* 0 where there is none */
    int64_t supersedes;       /* the notice that it replaces, 0 for none */
    char *made_from;          /* the facts that a classification was made from; else "" */
};

/* Adds one inside a transaction; its number is the caller's to choose. */
int store_add_notice(struct store *store, const struct stored_notice *notice, int64_t upload_id);

/* All notices in their order. Owner: the caller, see stored_notices_free. */
int store_notices(struct store *store, struct stored_notice **out, size_t *count);
void stored_notices_free(struct stored_notice *list, size_t count);

#endif
