/* SPDX-License-Identifier: MIT */
/* key_home.h - where keys of event.json belong, for whoever wrote one in another place. */
#ifndef CAIRN_KEY_HOME_H
#define CAIRN_KEY_HOME_H

struct json_place;

/* Where `key`, which is unknown at `place` of event.json, belongs: words that follow "belongs ",
 * such as "in “scoring”". NULL where the key is misspelt, or may stand in many places.
 * A constant; any thread. */
const char *key_home(const char *key, const struct json_place *place);

#endif
