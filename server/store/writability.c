/* SPDX-License-Identifier: MIT */
#include "store/writability.h"

#include <stddef.h>
#include <string.h>

const char *writability_message(enum writability state) {
    static const char *const words[] = {
        [WRITABLE] = NULL,
        [UNWRITABLE_STANDBY] =
            "This server stands by for another: send it there. To make this one the "
            "first: cairn promote.",
        [UNWRITABLE_READ_ONLY] = "The event file can only be read: the disk is full or mounted for "
                                 "reading only, or the file belongs to another user.",
        [UNWRITABLE_GONE] =
            "The event file was removed or replaced while the server had it open. Put "
            "it back where it was; or save the event first, then restart the server.",
        [UNWRITABLE_FAILING] = "What is written is not kept: the disk is full or failing, or the "
                               "event file is damaged.",
    };
    return words[state];
}

const char *writability_word(enum writability state) {
    static const char *const words[] = {[WRITABLE] = "good",
                                        [UNWRITABLE_STANDBY] = "standby",
                                        [UNWRITABLE_READ_ONLY] = "read-only",
                                        [UNWRITABLE_GONE] = "gone",
                                        [UNWRITABLE_FAILING] = "failing"};
    return words[state];
}

bool writability_parse(const char *word, enum writability *out) {
    for (enum writability state = WRITABLE; state <= UNWRITABLE_FAILING; state++) {
        if (strcmp(writability_word(state), word) == 0) {
            *out = state;
            return true;
        }
    }
    return false;
}
