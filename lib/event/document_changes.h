/* SPDX-License-Identifier: MIT */
/* document_changes.h - what differs between two versions of a document of an event folder, in short
 * lines for people. */
#ifndef CAIRN_DOCUMENT_CHANGES_H
#define CAIRN_DOCUMENT_CHANGES_H

#include "event/document.h"

struct textbuf;

/* Further changes are only counted. */
enum { CHANGE_LINES_MAX = 60 };

/* Appends what changed, a line each: "car 22: navigator M. Vale → P. Ling", "car 9 is gone",
 * "scoring.max_lateness: 00:30:00 → 00:20:00".
 *   before, now  the documents as they were taken, NUL-terminated; `before` NULL where there was
 *                none, and nothing is written
 *   car          its number: only what concerns this car (of rules nothing does); "" for all
 * Returns: ERR_OK; ERR_NOMEM. */
int document_changes(enum document document, const char *before, const char *now, const char *car,
                     struct textbuf *lines);

#endif
