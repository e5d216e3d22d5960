/* SPDX-License-Identifier: MIT */
/* document.h - the documents of an event: what is replaced as a whole, where facts are added. */
#ifndef CAIRN_DOCUMENT_H
#define CAIRN_DOCUMENT_H

enum document { DOCUMENT_RULES, DOCUMENT_ENTRIES, DOCUMENT_STARTS, DOCUMENT_COUNT };

/* Its name in an event folder, in an event file and between servers: "event.json", "entries.csv" or
 * "starts.csv". */
const char *document_name(enum document document);

#endif
