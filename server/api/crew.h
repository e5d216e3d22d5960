/* SPDX-License-Identifier: MIT */
/* crew.h - what a crew may do with the code that it was given on paper: ask about its card, and
 * read what it asked and was answered. As JSON, and as forms of the card's page. See http.h.
 * A case is told to whoever has the car's code, and to nobody else. */
#ifndef CAIRN_CREW_H
#define CAIRN_CREW_H

#include "http/http.h"

/* Fields of the page's forms; the second form has the first two only. */
enum { ASK_CODE, ASK_LANG, ASK_POINT, ASK_TEXT, ASK_FIELD_COUNT };

/* POST .../cars/N/enquiries with {"code", "point", "text"}: opens a case. Where the same is asked
 * already and not answered, that case is told again. */
unsigned write_crew_enquiry(struct request *r, struct write *write);
void tell_crew_enquiry(struct request *r, const struct write *write, struct textbuf *b);

/* POST .../cars/N/cases with {"code"}: the car's cases with their answers. */
unsigned act_crew_cases(struct request *r, struct textbuf *b);

/* The same as forms: the first leads on to a page with the case's number and time. */
unsigned write_crew_form(struct request *r, struct write *write);
void tell_crew_form(struct request *r, const struct write *write, struct textbuf *b);
unsigned act_crew_answers(struct request *r, struct textbuf *b);

/* The page of the forms, and the receipt of a case where its address names one. */
unsigned page_enquiry(struct request *r, struct textbuf *b);

/* The page that tells what is wrong with a form, with what was typed still in it. */
void page_enquiry_refused(struct request *r, struct textbuf *b, unsigned status);

/* Pieces for these pages and the card's. */
struct page;

/* The form by which a car's crew asks; what the request's form holds stands in it.
 *   car  its place in the entry list */
void put_enquiry_form(struct page *p, int car);

/* A car's cases, the newest first. */
void put_cases(struct page *p, int car);

#endif
