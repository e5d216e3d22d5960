/* SPDX-License-Identifier: MIT */
#include "event/document.h"

const char *document_name(enum document document) {
    static const char *const names[DOCUMENT_COUNT] = {[DOCUMENT_RULES] = "event.json",
                                                      [DOCUMENT_ENTRIES] = "entries.csv",
                                                      [DOCUMENT_STARTS] = "starts.csv"};
    return names[document];
}
