/* SPDX-License-Identifier: MIT */
#include "base/err.h"

const char *err_text(int code) {
    switch (code) {
#define ERR_CASE(name, value, text)                                                                \
    case name:                                                                                     \
        return text;
        ERR_LIST(ERR_CASE)
#undef ERR_CASE
    default:
        return "unknown error";
    }
}
