/* SPDX-License-Identifier: MIT */
#include "system/expat_library.h"

SHARED_LIBRARY(expat_library, EXPAT_FUNCTIONS,
               "the library libexpat is not there; on Debian: apt-get install libexpat1",
               "libexpat.so.1");
