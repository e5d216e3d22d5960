/* SPDX-License-Identifier: MIT */
/* api_classification.h - a classification before it is posted. See http.h. */
#ifndef CAIRN_API_CLASSIFICATION_H
#define CAIRN_API_CLASSIFICATION_H

#include "http/http.h"

/* What a classification posted now would say, and what stands in its way. Organisers only. */
unsigned api_classification(struct request *r, struct textbuf *b);

#endif
