/* SPDX-License-Identifier: MIT */
/* expat_library.h - libexpat, loaded when a track is read, see shared_library.h. */
#ifndef CAIRN_EXPAT_LIBRARY_H
#define CAIRN_EXPAT_LIBRARY_H

#include <expat.h>

#include "system/shared_library.h"

#define EXPAT_FUNCTIONS(X)                                                                         \
    X(XML_ErrorString)                                                                             \
    X(XML_GetCurrentByteIndex)                                                                     \
    X(XML_GetCurrentLineNumber)                                                                    \
    X(XML_GetErrorCode)                                                                            \
    X(XML_Parse)                                                                                   \
    X(XML_ParserCreate)                                                                            \
    X(XML_ParserFree)                                                                              \
    X(XML_SetCharacterDataHandler)                                                                 \
    X(XML_SetElementHandler)                                                                       \
    X(XML_SetStartDoctypeDeclHandler)                                                              \
    X(XML_SetUserData)                                                                             \
    X(XML_StopParser)

struct expat_library {
    EXPAT_FUNCTIONS(LIBRARY_MEMBER)
};

/* The library; NULL where it is missing, with `why`. Any thread. */
const struct expat_library *expat_library(struct textbuf *why);

#endif
