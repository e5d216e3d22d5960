/* SPDX-License-Identifier: MIT */
/* page.h - what all public pages share: the frame with navigation and state line, links, words in
 * the reader's language, cells of tables. A page is written into `m`, its main part, from top to
 * bottom; page_finish sets the frame around it. */
#ifndef CAIRN_PAGE_H
#define CAIRN_PAGE_H

#include "http/request.h"
#include "pages/template.h"
#include "scoring/standings.h"
#include "system/words.h"

struct page {
    struct request *r;
    enum lang lang;
    const struct event *event; /* NULL where the page has none */
    const struct rules *rules;
    const struct view *view;
    struct textbuf m;
    struct textbuf *link_file, *link_asked; /* of the link that is being written */
};

/* What stands around the main part; a member may be left out (NULL, false). */
struct page_frame {
    const char *title;     /* plain text */
    const char *here;      /* key of the navigation's entry that is shown as current */
    const char *script;    /* another script of web/, besides page.js */
    const char *data;      /* JSON-LD for the head */
    const char *downloads; /* path below /api/v1/events/SLUG/ of the same figures, with its query */
    bool csv;              /* they are a table */
    bool screen;           /* the big screen: no navigation */
    bool sends;            /* it has a form that is posted: browsers are to tell from where */
    const char *figures;   /* address of the figures that a script asks for in a copy */
};

/* Begins a page; `view` NULL for a page without an event. */
void page_begin(struct page *p, struct request *r, const struct view *view);

/* Sets the frame around the main part, which is freed. Returns 200. */
unsigned page_finish(struct page *p, struct textbuf *b, const struct page_frame *frame);

/* The same without a frame: what was written is the whole page. */
unsigned page_finish_bare(struct page *p, struct textbuf *b);

/* Frees the main part of a page that is given up, and describes the failure. */
unsigned page_give_up(struct page *p);

/* Appends a word, escaped; with one, two or three things put in, which are HTML already. */
void say(struct page *p, const char *key);
void say_with(struct page *p, const char *key, const char *a, const char *b, const char *c);
/* The form of a word that goes with a number, which is {0}; `a` is {1}. */
void say_count(struct page *p, const char *key, int64_t n, const char *a);
/* A word as it is, for texts that are escaped later. */
const char *said(const struct page *p, const char *key);
/* The word "PREFIX-NAME" likewise. */
const char *said_of(struct page *p, const char *prefix, const char *name);
/* A text that ends with the request, written as printf does; "" where memory is out, and then the
 * page has failed. */
const char *page_text(struct page *p, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* True where the page becomes a file of a static site: what needs a server is then left out. */
bool page_is_copy(const struct page *p);

/* Appends an attribute whose value is where a link leads: to the address; in a copy, to the file
 * that stands for it, seen from this page's. Every link of a page is written so, by this or by
 * page_href. Nothing is appended where it leads nowhere: where page_leads is false.
 *   name     of the attribute: href, src
 *   address  path, query and fragment, not escaped: "/SLUG/?by=day&lang=de#n22" */
void page_attribute(struct page *p, const char *name, const struct address *address);

/* True where a link to it leads anywhere: where it is set and, in a copy, has a file. */
bool page_leads(struct page *p, const struct address *address);

/* Of a page of this event, as page_href says. What the address is made of is the request's; where
 * memory is out, the page has failed. */
struct address page_address(struct page *p, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The same of any path on this server, written as printf does. */
struct address page_local(struct page *p, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The same of a text of the request that is written no further. */
struct address page_text_address(struct page *p, const struct textbuf *path);

/* Appends href="…" of a page of this event: `format` as printf gives the path behind /SLUG/, with
 * its query where it has one ("?a=b&c=d"); what goes in must need no percent-encoding. The language
 * is added where the reader's own address named it. Nothing is appended where a copy lacks it. */
void page_href(struct page *p, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Appends text percent-encoded, as a value of a query. */
void url_text(struct textbuf *b, const char *text);

/* Appends the query that this very page was asked for with, but for one of its parameters. */
void page_query(const struct page *p, const char *without, struct textbuf *b);

/* A line on what the page shows: how final, which revision, and of when; and for a template. */
void page_state(struct page *p);
struct markup page_state_line(void);

/* Pieces: the crew as "A / B", each name set by itself; "Calder Six"; the id of the class; a car's
 * number as a plate. */
void put_crew(struct page *p, int car);
void put_vehicle(struct page *p, int car);
void put_class(struct page *p, int car);
void put_plate(struct page *p, int car);
void put_penalty(struct page *p, int64_t penalty);
/* The same into a text: in points, or as time, with the language's decimal sign. */
void words_penalty(struct textbuf *b, const struct page *p, int64_t penalty);
void put_gap(struct page *p, struct gap gap);
/* A time of day or duration in that precision, with the language's decimal sign. */
void put_time(struct page *p, int64_t ms, int64_t unit);
/* How many decisions and corrections that concern a car alone its card tells of in these scores:
 * none that would tell of a hidden item. */
int card_rulings(struct page *p, const struct scores *s, int car);
/* The same for a template, as markup; what it is made of is borrowed. */
struct markup crew_markup(const struct entry *entry);
struct markup penalty_markup(const int64_t *penalty);
struct markup gap_markup(const struct gap *gap);
struct markup html_markup(const struct textbuf *html);
/* "R4 Sorrel Common", where it is a test leading to its page. */
void put_item(struct page *p, const struct item *item, bool link);
/* The form by which a car's crew asks; what the request's form holds stands in it.
 *   car  borrowed until the page is written */
struct markup enquiry_form_markup(const int *car);
/* A moment, ms since 1970; page.js turns it into the event's local time. */
void put_moment(struct page *p, int64_t ms);
void moment_write(struct textbuf *b, int64_t ms);

#endif
