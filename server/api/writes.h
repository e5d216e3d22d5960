/* SPDX-License-Identifier: MIT */
/* writes.h - what the writes of the API share. */
#ifndef CAIRN_WRITES_H
#define CAIRN_WRITES_H

#include "http/request.h"

/* Answers a write of which there is nothing to tell but its revision; see struct write_handler. */
void answer_document(struct request *r, const struct write *head, struct textbuf *b);

#endif
