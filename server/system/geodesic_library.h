/* SPDX-License-Identifier: MIT */
/* geodesic_library.h - PROJ's geodesic routines (C. F. F. Karney, Algorithms for geodesics, J.
 * Geod. 87, 2013), loaded when a track is read, see shared_library.h. */
#ifndef CAIRN_GEODESIC_LIBRARY_H
#define CAIRN_GEODESIC_LIBRARY_H

#include <geodesic.h>

#include "system/shared_library.h"

#define GEODESIC_FUNCTIONS(X)                                                                      \
    X(geod_init)                                                                                   \
    X(geod_inverse)                                                                                \
    X(geod_inverseline)                                                                            \
    X(geod_position)

struct geodesic_library {
    GEODESIC_FUNCTIONS(LIBRARY_MEMBER)
};

/* The library; NULL where it is missing, with `why`. Any thread. */
const struct geodesic_library *geodesic_library(struct textbuf *why);

#endif
