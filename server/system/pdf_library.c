/* SPDX-License-Identifier: MIT */
#include "system/pdf_library.h"

SHARED_LIBRARY(
    pdf_library, PDF_FUNCTIONS,
    "the library pangocairo, which draws paper, is not there; on Debian: apt-get install "
    "libpangocairo-1.0-0 fonts-dejavu-core",
    "libpangocairo-1.0.so.0");
