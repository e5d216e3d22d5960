/* SPDX-License-Identifier: MIT */
/* err.h - the results of functions, one list for the whole program.
 * Functions that can fail return 0 (ERR_OK) or one of these negative codes. Codes of other
 * libraries are translated where that library is called. */
#ifndef CAIRN_ERR_H
#define CAIRN_ERR_H

#define ERR_LIST(X)                                                                                \
    X(ERR_OK, 0, "no error")                                                                       \
    X(ERR_NOMEM, -1, "out of memory")                                                              \
    X(ERR_INPUT, -2, "bad input")                                                                  \
    X(ERR_SYNTAX, -3, "not written as it should be")                                               \
    X(ERR_RANGE, -4, "out of range")                                                               \
    X(ERR_PRECISION, -5, "more than three decimals")                                               \
    X(ERR_UNKNOWN, -6, "no such thing")                                                            \
    X(ERR_IO, -7, "the machine failed to read or write")                                           \
    X(ERR_BUSY, -8, "busy")                                                                        \
    X(ERR_CONFLICT, -9, "in conflict with what is there")

/* The codes. */
enum err {
#define ERR_ENUM(name, value, text) name = (value),
    ERR_LIST(ERR_ENUM)
#undef ERR_ENUM
};

/* Text of a code, for people.
 * Returns: a constant string, never NULL; "unknown error" for a code that is not listed. */
const char *err_text(int code);

#endif
