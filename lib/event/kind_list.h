/* SPDX-License-Identifier: MIT */
/* kind_list.h - a list of kinds in event.json, as drop_worst and coefficient have. Source: the
 * contract, "Totals" and "Coefficient". */
#ifndef CAIRN_KIND_LIST_H
#define CAIRN_KIND_LIST_H

struct json_place;
struct json_reader;
struct json_t;

/* All kinds of tests, bit 1 << kind. */
unsigned kinds_of_tests(void);

/* Reads the list "kinds" of an object: bit 1 << kind of each. All tests where the key is not there.
 * What is wrong is reported at its place, and left out.
 *   object, place  what may hold it, and its place for messages
 *   allowed        bit 1 << kind of those it may name */
unsigned kind_list_read(const struct json_reader *reader, const struct json_t *object,
                        const struct json_place *place, unsigned allowed);

#endif
