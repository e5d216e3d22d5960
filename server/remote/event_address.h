/* SPDX-License-Identifier: MIT */
/* event_address.h - the address of an event as people give it to `cairn send`.
 * Takes the event's page (https://HOST/SLUG/), a link with its key (https://HOST/SLUG/control#KEY
 * or /office#KEY) and the address of the API. The key is parted from the address here and never
 * goes back into one. */
#ifndef CAIRN_EVENT_ADDRESS_H
#define CAIRN_EVENT_ADDRESS_H

#include <stdbool.h>

struct textbuf;

/* The longest key that is taken. */
enum { EVENT_KEY_MAX = 200 };

/* A plain value; event_address_clear frees it. No text in it but `key` holds the key. */
struct event_address {
    char *page;     /* "https://HOST/SLUG/", scheme and host in lower case */
    char *readings; /* where readings are posted */
    char *key;      /* from the fragment; NULL where there is none */
    bool in_clear;  /* http to another machine: the key can be read on the way */
};

/* Parts an address.
 *   text  borrowed
 *   out   set up in any case; call event_address_clear
 *   why   gets what is wrong, without the fragment
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. */
int event_address_parse(const char *text, struct event_address *out, struct textbuf *why);

/* Frees what the address owns; the key is wiped first. */
void event_address_clear(struct event_address *address);

/* A key as people keep it: alone or at the end of a link, with blanks and line ends around it.
 *   out   a copy for the caller, see event_key_free
 * Returns: ERR_OK; ERR_SYNTAX where it holds no key; ERR_NOMEM. */
int event_key_parse(const char *text, char **out);

/* Wipes and frees a key; NULL is accepted. */
void event_key_free(char *key);

#endif
