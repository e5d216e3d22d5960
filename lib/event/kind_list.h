/* SPDX-License-Identifier: MIT */
/* kind_list.h - a list of kinds in event.json. Source: the contract, section 3. */
#ifndef CAIRN_KIND_LIST_H
#define CAIRN_KIND_LIST_H

struct json_place;
struct json_reader;
struct json_t;

/* All kinds of tests, bit 1 << kind. */
unsigned kinds_of_tests(void);

/* Reads the list "kinds" of an object: bit 1 << kind of each. All tests where the key is not there.
 *   object, place  what may hold it, and its place for messages
 *   allowed        bit 1 << kind of those it may name */
unsigned kind_list_read(const struct json_reader *reader, const struct json_t *object,
                        const struct json_place *place, unsigned allowed);

#endif
