/* SPDX-License-Identifier: MIT */
/* api_list.h - the entry list as a whole: one that was pasted, row by row; numbers by age. Both
 * only tell what would come of it, with the list to be sent by PUT. Organisers only. See http.h. */
#ifndef CAIRN_API_LIST_H
#define CAIRN_API_LIST_H

#include "http/http.h"

/* The body is {"list": text, "whole": false}, see entry_import.h. */
unsigned act_import_entries(struct request *r, struct textbuf *b);

/* The body is {"keep": "1", "give": "22=1", "skip": "13", "first": "1"}, each as it likes, see
 * numbering.h; it is the list in force that is numbered. */
unsigned act_number_entries(struct request *r, struct textbuf *b);

#endif
