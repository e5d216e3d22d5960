/* SPDX-License-Identifier: MIT */
/* entry_words.h - a car and its crew as every list names them.
 *
 * Each adds to `b` as textbuf_puts does (memory running out is marked by `b->failed`); `e` is
 * borrowed for the call. Texts are as they were entered: whoever prints to a terminal or a page
 * escapes. */
#ifndef CAIRN_ENTRY_WORDS_H
#define CAIRN_ENTRY_WORDS_H

#include "base/textbuf.h"
#include "event/entries.h"

/* "A. Thorne / M. Vale"; the driver alone where nobody navigates. */
void entry_crew_words(struct textbuf *b, const struct entry *e);

/* "Calder Six"; no blank where make or model is not given. */
void entry_vehicle_words(struct textbuf *b, const struct entry *e);

/* Members of a JSON object that the caller has opened: `"crew":["A. Thorne","M. Vale"]`, the driver
 * first. */
void entry_crew_json(struct textbuf *b, const struct entry *e);

/* `"vehicle":"Calder Six","year":1929`. */
void entry_vehicle_json(struct textbuf *b, const struct entry *e);

/* `"class":"D-1"`, of a class by its place among those of the rules. */
void entry_class_json(struct textbuf *b, const struct rules *rules, int class_index);

#endif
