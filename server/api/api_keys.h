/* SPDX-License-Identifier: MIT */
/* api_keys.h - making, listing and revoking keys over HTTP, for organisers. See http.h.
 * A new key is told once, in the answer that made it, with a link that opens its page and the
 * link's QR code; in the link it stands in the fragment, which no browser sends and no log sees. */
#ifndef CAIRN_API_KEYS_H
#define CAIRN_API_KEYS_H

#include "http/http.h"

/* Lists the keys; what they are is not told again. */
unsigned api_keys(struct request *r, struct textbuf *b);

/* Make the write of a new key, and of a revocation. Each returns 0 or the status of an error. */
unsigned write_key(struct request *r, struct write *write);
unsigned write_revocation(struct request *r, struct write *write);

/* Tells the key that a done write has made. */
void tell_key(struct request *r, const struct write *write, struct textbuf *b);

#endif
