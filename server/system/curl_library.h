/* SPDX-License-Identifier: MIT */
/* curl_library.h - libcurl, loaded when a client is made, see shared_library.h. */
#ifndef CAIRN_CURL_LIBRARY_H
#define CAIRN_CURL_LIBRARY_H

#define CURL_DISABLE_TYPECHECK /* its checks take the functions' names for their own */
#include <curl/curl.h>

#include "system/shared_library.h"

#define CURL_FUNCTIONS(X)                                                                          \
    X(curl_easy_cleanup)                                                                           \
    X(curl_easy_getinfo)                                                                           \
    X(curl_easy_header)                                                                            \
    X(curl_easy_init)                                                                              \
    X(curl_easy_perform)                                                                           \
    X(curl_easy_setopt)                                                                            \
    X(curl_easy_strerror)                                                                          \
    X(curl_getdate)                                                                                \
    X(curl_global_init)                                                                            \
    X(curl_slist_append)                                                                           \
    X(curl_slist_free_all)

struct curl_library {
    CURL_FUNCTIONS(LIBRARY_MEMBER)
};

/* The library; NULL where it is missing, with `why`. Any thread. */
const struct curl_library *curl_library(struct textbuf *why);

#endif
