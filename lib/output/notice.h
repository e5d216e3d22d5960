/* SPDX-License-Identifier: MIT */
/* notice.h - what a notice says, as bytes that can be sealed: canonical JSON (keys in byte order,
 * no white space, UTF-8), so that a reader can write the same bytes again and check the seal. A
 * classification holds every table, every decision, and how it differs from the notice that it
 * replaces. */
#ifndef CAIRN_NOTICE_H
#define CAIRN_NOTICE_H

#include "base/seal.h"
#include "scoring/scoring.h"

struct textbuf;

/* What is written before the tables. No text may be NULL unless its comment says so. */
struct notice_head {
    int64_t number;
    const char *kind; /* "bulletin", "provisional" or "final" */
    const char *title;
    const char *text;
    const char *event; /* the slug */
    const char *name;
    const char *posted;        /* RFC 3339 */
    const char *protest_until; /* the same; NULL where there is none */
    int64_t supersedes;        /* the notice that it replaces; 0 for none */
    int64_t revision;          /* the public's revision that it was made at */
};

/* Writes the content of a notice.
 *   scores      for a classification; NULL for a bulletin
 *   superseded  the content of the notice that it replaces, NULL for none
 *   out         gets the text, for the caller to free
 * Returns: ERR_OK; ERR_INPUT where `superseded` does not read; ERR_NOMEM. */
int notice_content(const struct notice_head *head, const struct scores *scores,
                   const char *superseded, char **out);

/* Appends the hash, the signature and the signer as members of a JSON object. */
void seal_write_json(struct textbuf *b, const struct seal *seal);

/* Writes a notice with its seal as one JSON document, which notice_check reads. */
void notice_write_document(struct textbuf *b, const char *content, const struct seal *seal);

/* Checks a document of notice_write_document.
 *   signer  gets who sealed it, also where the seal is not good
 *   about   gets a line that names the notice, or why it cannot be trusted
 * Returns: ERR_OK; ERR_CONFLICT where the seal is not that of the content; ERR_INPUT where it is no
 * such document; ERR_NOMEM. */
int notice_check(const char *text, size_t len, unsigned char signer[SEAL_KEY_LEN],
                 struct textbuf *about);

#endif
