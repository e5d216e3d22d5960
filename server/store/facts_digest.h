/* SPDX-License-Identifier: MIT */
/* facts_digest.h - a digest of the facts that one server has of an event, as one short text, so
 * that another server can tell what the first lacks. Sums of hashes do not depend on the order in
 * which facts came. Plain values; any thread. libsodium must have been set up. */
#ifndef CAIRN_FACTS_DIGEST_H
#define CAIRN_FACTS_DIGEST_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/textbuf.h"

struct facts_digest {
    int readings;
    int decisions;
    uint64_t reading_sum;
    uint64_t decision_sum;
    uint64_t document_sum;
};

/* Adds a fact to a sum.
 *   fields  as written, `count` of them, none NULL: one id may stand for two facts */
void facts_digest_add(uint64_t *sum, const char *id, const char *const *fields, size_t count);

/* Adds a document; `text` may be NULL where `len` is 0. */
void facts_digest_add_document(struct facts_digest *digest, const char *name, const char *text,
                               size_t len);

/* Appends it as one word that can stand in an address. */
void facts_digest_write(const struct facts_digest *digest, struct textbuf *b);

/* Parses such a word; "0" stands for no facts. Returns false where it is none. */
bool facts_digest_parse(const char *word, struct facts_digest *out);

#endif
