/* SPDX-License-Identifier: MIT */
/* signing.h - the secret that an event's notices are sealed with: DATA_DIR/SLUG.signing, readable
 * by its owner alone, made when the first notice is posted. It is in no backup and no export. */
#ifndef CAIRN_SIGNING_H
#define CAIRN_SIGNING_H

#include "base/seal.h"

struct textbuf;

/* Reads the event's secret, or makes it where there is none.
 *   slug  must be a slug, see data_dir.h
 *   seed  gets it; the caller wipes it
 *   why   gets why it failed
 * Returns: ERR_OK; ERR_INPUT where the file holds no secret, or others may read it; ERR_IO;
 * ERR_NOMEM. */
int signing_seed(const char *data_dir, const char *slug, unsigned char seed[SEAL_SEED_LEN],
                 struct textbuf *why);

#endif
