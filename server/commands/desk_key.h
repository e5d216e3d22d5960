/* SPDX-License-Identifier: MIT */
/* desk_key.h - the key that a desk's sheet of paper holds. What is wrong is reported on standard
 * error. */
#ifndef CAIRN_DESK_KEY_H
#define CAIRN_DESK_KEY_H

#include <stdint.h>

#include "store/keys.h"

/* Makes a timekeeper's key for one point. libsodium must have been set up.
 *   text  gets the key
 *   id    gets its number, for desk_key_revoke
 * Returns: an exit code. */
int desk_key_make(const char *data_dir, const char *slug, const char *point,
                  char text[KEY_TEXT_LEN + 1], int64_t *id);

/* Takes it back, where no paper came of it.
 * Returns: an exit code. */
int desk_key_revoke(const char *data_dir, const char *slug, int64_t id);

/* Whether a key is a timekeeper's, in force, and for that point.
 * Returns: an exit code. */
int desk_key_check(const char *data_dir, const char *slug, const char *point, const char *text);

#endif
