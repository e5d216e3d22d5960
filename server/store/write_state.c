/* SPDX-License-Identifier: MIT */
#include "store/write_state.h"

#include <stddef.h>
#include <string.h>

const char *write_state_words(enum write_state state) {
    static const char *const words[] = {
        [WRITES_GOOD] = NULL,
        [WRITES_STANDBY] = "This server stands by for another: send it there. To make this one the "
                           "first: cairn promote.",
        [WRITES_READ_ONLY] = "The event file can only be read: the disk is full or mounted for "
                             "reading only, or the file belongs to another user.",
        [WRITES_GONE] = "The event file was removed or replaced while the server had it open. Put "
                        "it back where it was; or save the event first, then restart the server.",
        [WRITES_FAILING] = "What is written is not kept: the disk is full or failing, or the "
                           "event file is damaged.",
    };
    return words[state];
}

const char *write_state_word(enum write_state state) {
    static const char *const words[] = {[WRITES_GOOD] = "good",
                                        [WRITES_STANDBY] = "standby",
                                        [WRITES_READ_ONLY] = "read-only",
                                        [WRITES_GONE] = "gone",
                                        [WRITES_FAILING] = "failing"};
    return words[state];
}

bool write_state_parse(const char *word, enum write_state *out) {
    for (enum write_state state = WRITES_GOOD; state <= WRITES_FAILING; state++) {
        if (strcmp(write_state_word(state), word) == 0) {
            *out = state;
            return true;
        }
    }
    return false;
}
