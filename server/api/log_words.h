/* SPDX-License-Identifier: MIT */
/* log_words.h - an entry of the log in words for people. */
#ifndef CAIRN_LOG_WORDS_H
#define CAIRN_LOG_WORDS_H

#include "store/event_log.h"

/* Appends what was done: "penalty of 60 for car 22", "14 readings, 2 refused". */
void log_write_what(struct textbuf *b, const struct logged *fact);

/* Appends what it changed, a line each, where the fact itself tells: "TC1: 08:53 → 08:55". What
 * differs in documents is another matter, see document_changes.h. */
void log_write_changes(struct textbuf *b, const struct logged *fact);

#endif
