/* SPDX-License-Identifier: MIT */
#include "system/tls_library.h"

SHARED_LIBRARY(tls_library, TLS_FUNCTIONS,
               "the library GnuTLS is not there; on Debian: apt-get install libgnutls30",
               "libgnutls.so.30");
