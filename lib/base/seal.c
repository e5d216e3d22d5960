/* SPDX-License-Identifier: MIT */
#include "base/seal.h"

#include <sodium.h>
#include <string.h>

_Static_assert(SEAL_SEED_LEN == crypto_sign_SEEDBYTES &&
                   SEAL_KEY_LEN == crypto_sign_PUBLICKEYBYTES &&
                   SEAL_HASH_LEN == crypto_hash_sha256_BYTES &&
                   SEAL_SIGNATURE_LEN == crypto_sign_BYTES,
               "sizes are those of the library");

void seal_make(struct seal *seal, const unsigned char seed[SEAL_SEED_LEN], const void *bytes,
               size_t len) {
    unsigned char secret[crypto_sign_SECRETKEYBYTES];
    (void)crypto_sign_seed_keypair(seal->signer, secret, seed);
    (void)crypto_hash_sha256(seal->hash, bytes, len);
    (void)crypto_sign_detached(seal->signature, NULL, bytes, len, secret);
    sodium_memzero(secret, sizeof secret);
}

bool seal_is_good(const struct seal *seal, const void *bytes, size_t len) {
    unsigned char hash[SEAL_HASH_LEN];
    (void)crypto_hash_sha256(hash, bytes, len);
    return memcmp(hash, seal->hash, sizeof hash) == 0 &&
           crypto_sign_verify_detached(seal->signature, bytes, len, seal->signer) == 0;
}
