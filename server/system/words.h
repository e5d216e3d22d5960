/* SPDX-License-Identifier: MIT */
/* words.h - what the public pages say, in each of their languages.
 * One catalogue a language, web/words/board.CODE.json: a flat object of key to text, where {0}, {1}
 * stand for what is put in. A text that depends on a number has two keys, KEY.one and KEY.other.
 * Loaded once; after that any number of threads may ask. */
#ifndef CAIRN_WORDS_H
#define CAIRN_WORDS_H

#include <stdbool.h>
#include <stdint.h>

#include "base/textbuf.h"

enum lang { LANG_EN, LANG_DE, LANG_FR, LANG_IT, LANG_COUNT };

/* Loads the catalogues that are part of the program, where that is not done yet. Before any thread
 * asks for a word. Returns ERR_OK; ERR_INPUT where a catalogue is none, which is a fault of the
 * build; ERR_NOMEM. */
int words_load(void);

/* Frees them again; for a program that ends. */
void words_unload(void);

/* "en" .. "it", and the language's name in itself. */
const char *lang_code(enum lang lang);
const char *lang_name(enum lang lang);

/* The language of a code. Returns ERR_OK or ERR_UNKNOWN; `out` is untouched then. */
int lang_parse(const char *code, enum lang *out);

/* The language that an Accept-Language header likes best of ours; English where it names none, or
 * is NULL. */
enum lang lang_accepted(const char *header);

/* A text as it stands in the catalogue; English where the language lacks it, and the key itself
 * where that does too. Lives until words_unload. */
const char *word(enum lang lang, const char *key);

/* The form of KEY.one or KEY.other that goes with a number. */
const char *word_for(enum lang lang, const char *key, int64_t n);

/* True where a number takes the form KEY.one. */
bool word_is_one(enum lang lang, int64_t n);

/* Appends a text as HTML with its {0}, {1} .. replaced.
 *   args   HTML already; `count` of them, at most 10 */
void words_put(struct textbuf *b, const char *text, const char *const *args, int count);

/* Appends thousandths with three decimals and the decimal sign of the language. */
void words_decimal(struct textbuf *b, enum lang lang, int64_t thousandths);

/* Appends a text that has a decimal point, such as "-00:01:02.45", with the language's sign. */
void words_figure(struct textbuf *b, enum lang lang, const char *text);

/* Gives a figure that stands in a buffer from `from` on, and has a decimal point, the language's
 * sign: what words_figure does where the figure is written into the buffer itself. */
void words_point(struct textbuf *b, enum lang lang, size_t from);

#endif
