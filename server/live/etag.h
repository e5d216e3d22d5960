/* SPDX-License-Identifier: MIT */
/* etag.h - entity tags of what an organiser may change, so that two organisers do not overwrite
 * each other: a read gives the tag, a write names it in If-Match and is refused where another one
 * is in force by then (RFC 9110, 13.1.1). Tags follow from the facts alone, so they survive a
 * restart. Any thread. */
#ifndef CAIRN_ETAG_H
#define CAIRN_ETAG_H

#include <stdbool.h>
#include <stdint.h>

struct sent_document;

/* Room for a tag without its quotes, and its NUL. */
enum { ETAG_LEN = 40 };

/* The tag of a document, by its bytes. */
void etag_of_document(const struct sent_document *document, char tag[ETAG_LEN]);

/* The tag of the log of decisions, by how many there are: they are only ever added. */
void etag_of_decisions(int count, char tag[ETAG_LEN]);

/* The tag of the readings of a car at a point, corrections too, by how many there are. */
void etag_of_evidence(int count, char tag[ETAG_LEN]);

/* True where the value of an If-Match names what is in force: its tag, that of its compressed
 * form, or "*".
 *   value  as sent, not NULL
 *   tag    without its quotes */
bool etag_is(const char *value, const char *tag);
bool etag_is_document(const char *value, const struct sent_document *document);
bool etag_is_decisions(const char *value, int count);

/* True where the value of an If-Match names an organiser's answer of that revision (see answer.c),
 * of whatever version of the program, or is "*". */
bool etag_is_revision(const char *value, int64_t revision);

#endif
