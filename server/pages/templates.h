/* SPDX-License-Identifier: MIT */
/* templates.h - all templates of pages. Each is defined by the page that fills it, next
 * to its content. */
#ifndef CAIRN_TEMPLATES_H
#define CAIRN_TEMPLATES_H

#include "pages/template.h"

extern struct template frame_template; /* around the main part of every page */
extern struct template state_template; /* the line on how final it is */

extern struct template card_template;
extern struct template cases_template;
extern struct template enquiry_template;
extern struct template enquiry_form_template;
extern struct template event_template;
extern struct template events_template;
extern struct template notices_template;
extern struct template problem_template;
extern struct template qr_template;
extern struct template screen_template;
extern struct template starts_template;

extern struct template desk_template; /* shells: a script does the rest */
extern struct template office_template;

/* All of them, the last followed by NULL. */
extern struct template *const templates[];

/* Compiles those that are not yet, from the files that are part of the program. After words_load
 * and before any thread writes a page.
 *   why  gets what is wrong with a template, which is a fault of the build
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. */
int templates_load(struct textbuf *why);

/* Frees them again; for a program that ends. */
void templates_unload(void);

#endif
