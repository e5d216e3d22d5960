/* SPDX-License-Identifier: MIT */
#include "system/geodesic_library.h"

SHARED_LIBRARY(geodesic_library, GEODESIC_FUNCTIONS,
               "the library PROJ is not there; on Debian: apt-get install libproj25",
               "libproj.so.25", "libproj.so.22");
