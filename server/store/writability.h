/* SPDX-License-Identifier: MIT */
/* writability.h - whether an event that the server has open can be written, and what stands in the
 * way. Reads go on in every state. Any thread. */
#ifndef CAIRN_WRITABILITY_H
#define CAIRN_WRITABILITY_H

#include <stdbool.h>

enum writability {
    WRITABLE,
    UNWRITABLE_STANDBY,   /* the file stands by for another server */
    UNWRITABLE_READ_ONLY, /* it could not be opened for writing; tried again each second */
    UNWRITABLE_GONE,      /* it was removed or replaced while it was open */
    UNWRITABLE_FAILING    /* the last write failed; tried again each second */
};

/* What stands in the way, as sentences for people; NULL for WRITABLE. Lives for ever. */
const char *writability_message(enum writability state);

/* One word for programs: "good", "standby", "read-only", "gone", "failing". */
const char *writability_word(enum writability state);

/* The state of a word. Returns false where it is none. */
bool writability_parse(const char *word, enum writability *out);

#endif
