/* SPDX-License-Identifier: MIT */
/* test_kinds.h - a list of kinds of tests in event.json. Source: the contract, section 3. */
#ifndef CAIRN_TEST_KINDS_H
#define CAIRN_TEST_KINDS_H

struct json_place;
struct json_reader;
struct json_t;

/* Reads the list "kinds" of an object: bit 1 << kind of each. All tests where the key is not there.
 *   object, place  what may hold it, and its place for messages */
unsigned test_kinds_read(const struct json_reader *reader, const struct json_t *object,
                         const struct json_place *place);

#endif
