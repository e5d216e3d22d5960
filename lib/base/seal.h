/* SPDX-License-Identifier: MIT */
/* seal.h - the seal of a notice: SHA-256 and Ed25519 over its bytes, so that anybody can check that
 * it is unchanged and who sealed it. */
#ifndef CAIRN_SEAL_H
#define CAIRN_SEAL_H

#include <stdbool.h>
#include <stddef.h>

enum { SEAL_SEED_LEN = 32, SEAL_KEY_LEN = 32, SEAL_HASH_LEN = 32, SEAL_SIGNATURE_LEN = 64 };

struct seal {
    unsigned char hash[SEAL_HASH_LEN];           /* SHA-256 of the bytes */
    unsigned char signature[SEAL_SIGNATURE_LEN]; /* of the bytes */
    unsigned char signer[SEAL_KEY_LEN];          /* the public key */
};

/* Seals bytes. The same seed and bytes give the same seal. libsodium must have been set up.
 *   seed  the secret that the signer's key follows from */
void seal_make(struct seal *seal, const unsigned char seed[SEAL_SEED_LEN], const void *bytes,
               size_t len);

/* True where hash and signature are those of the bytes by the seal's own signer. The caller
 * decides whether that signer is the right one. */
bool seal_is_good(const struct seal *seal, const void *bytes, size_t len);

#endif
