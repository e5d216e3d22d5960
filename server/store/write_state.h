/* SPDX-License-Identifier: MIT */
/* write_state.h - whether an event that the server holds can be written, and what stands in the
 * way. Reads go on in every state. */
#ifndef CAIRN_WRITE_STATE_H
#define CAIRN_WRITE_STATE_H

#include <stdbool.h>

enum write_state {
    WRITES_GOOD,
    WRITES_STANDBY,   /* the file stands by for another server */
    WRITES_READ_ONLY, /* it could not be opened for writing; tried again each second */
    WRITES_GONE,      /* it was removed or replaced while it was open */
    WRITES_FAILING    /* the last write failed; tried again each second */
};

/* What stands in the way, as sentences for people; NULL where nothing does. */
const char *write_state_words(enum write_state state);

/* One word for programs: "good", "standby", "read-only", "gone", "failing". */
const char *write_state_word(enum write_state state);

/* The state of a word. Returns false where it is none. */
bool write_state_parse(const char *word, enum write_state *out);

#endif
