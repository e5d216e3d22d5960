/* SPDX-License-Identifier: MIT */
#include "system/curl_library.h"

/* One with GnuTLS, which the HTTP server's library uses too; else the one with OpenSSL. */
SHARED_LIBRARY(curl_library, CURL_FUNCTIONS,
               "the library libcurl is not there; on Debian: apt-get install libcurl3-gnutls",
               "libcurl-gnutls.so.4", "libcurl.so.4");
