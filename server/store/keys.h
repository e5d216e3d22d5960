/* SPDX-License-Identifier: MIT */
/* keys.h - keys for writing: made, hashed, compared. Plain values; any thread. */
#ifndef CAIRN_KEYS_H
#define CAIRN_KEYS_H

#include <stdbool.h>

#include "event/rules.h"
#include "store/stored_keys.h"

/* 160 random bits, written as 32 letters and digits without those that are misread. */
enum { KEY_TEXT_LEN = 32 };

/* Makes a new key. `text` gets it with a NUL; libsodium must have been set up. */
void key_make(char text[KEY_TEXT_LEN + 1]);

/* The hash under which a key is kept. The key has 160 random bits, so a plain hash is enough:
 * there is nothing to guess that a slow one would protect. */
void key_hash(const char *text, unsigned char hash[32]);

/* Finds the key of a hash among the stored ones; every one is compared, each in constant time.
 * Returns: its place, -1 where there is none in force. */
int key_find(const struct stored_key *keys, size_t count, const unsigned char hash[32]);

/* True where the key of a hash is one of those stored that was revoked. */
bool key_is_revoked(const struct stored_key *keys, size_t count, const unsigned char hash[32]);

/* True where the comma-separated list of a key holds this reading point, or its item. */
bool key_covers(const char *points, const struct rules *rules, int point);

/* True where it holds the whole item. */
bool key_covers_item(const char *points, const struct rules *rules, int item);

/* True where every id of the list is a point or an item of the route; else `wrong` gets the
 * first that is not (a copy for the caller to free, NULL when memory is out). */
bool key_points_are_good(const char *points, const struct rules *rules, char **wrong);

/* True where the text is an address to make a link from: http or https, a host, perhaps a port,
 * and no path. */
bool key_base_is_good(const char *base);

/* Appends the link that opens a key's page: the desk, or the office for an organiser. The key
 * stands in the fragment, which no browser sends.
 *   base  as above */
void key_link(struct textbuf *b, const char *base, const char *slug, bool organiser,
              const char *key);

#endif
