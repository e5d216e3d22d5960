/* SPDX-License-Identifier: MIT */
#include "system/http_library.h"

struct http_library http_library;

bool http_library_load(struct textbuf *why) {
    static const char *const names[] = {HTTP_FUNCTIONS(LIBRARY_NAME)};
    static struct shared_library library = {
        .files = {"libmicrohttpd.so.12"},
        .missing = "the HTTP library is not there; on Debian: apt-get install libmicrohttpd12",
        .names = names,
        .count = sizeof names / sizeof names[0],
        .functions = &http_library};
    return shared_library_load(&library, why);
}
