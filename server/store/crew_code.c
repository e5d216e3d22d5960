/* SPDX-License-Identifier: MIT */
#include "store/crew_code.h"

#include <ctype.h>
#include <sodium.h>

/* Without signs that are taken for each other when they are read aloud, or on wet paper by
 * torchlight: 0 and O, 1, I and L, 2 and Z, 5 and S, 8 and B, U beside V. */
static const char signs[] = "34679ACDEFGHJKMNPQRTVWXY";
enum { SIGN_COUNT = sizeof signs - 1, GROUP = 3 };

/* A keyed hash of the purpose and two numbers, in a fixed order of bytes. */
static void derive(const unsigned char secret[CODE_SECRET_LEN], char purpose, int64_t a, int64_t b,
                   unsigned char out[crypto_generichash_BYTES]) {
    unsigned char message[1 + 2 * sizeof(int64_t)] = {(unsigned char)purpose};
    for (size_t i = 0; i < sizeof(int64_t); i++) {
        message[1 + i] = (unsigned char)((uint64_t)a >> (8 * i));
        message[1 + sizeof(int64_t) + i] = (unsigned char)((uint64_t)b >> (8 * i));
    }
    (void)crypto_generichash(out, crypto_generichash_BYTES, message, sizeof message, secret,
                             CODE_SECRET_LEN);
}

static void make_signs(const unsigned char secret[CODE_SECRET_LEN], int64_t car, int64_t serial,
                       char out[CODE_SIGNS]) {
    unsigned char hash[crypto_generichash_BYTES];
    uint64_t value = 0;
    derive(secret, 'c', car, serial, hash);
    /* 64 bits are used for 41: no sign is likelier than another by more than one in eight million.
     */
    for (size_t i = 0; i < sizeof value; i++)
        value = value << 8 | hash[i];
    for (int i = 0; i < CODE_SIGNS; i++) {
        out[i] = signs[value % SIGN_COUNT];
        value /= SIGN_COUNT;
    }
    sodium_memzero(hash, sizeof hash);
}

void crew_code_make(const unsigned char secret[CODE_SECRET_LEN], int64_t car, int64_t serial,
                    char text[CODE_TEXT_LEN + 1]) {
    char plain[CODE_SIGNS];
    char *to = text;
    make_signs(secret, car, serial, plain);
    for (int i = 0; i < CODE_SIGNS; i++) {
        if (i > 0 && i % GROUP == 0)
            *to++ = '-';
        *to++ = plain[i];
    }
    *to = '\0';
    sodium_memzero(plain, sizeof plain);
}

bool crew_code_is(const unsigned char secret[CODE_SECRET_LEN], int64_t car, int64_t serial,
                  const char *typed) {
    char right[CODE_SIGNS];
    char given[CODE_SIGNS] = {0};
    size_t count = 0;
    for (; *typed != '\0'; typed++) {
        if (*typed == ' ' || *typed == '-')
            continue;
        if (count < CODE_SIGNS)
            given[count] = (char)toupper((unsigned char)*typed);
        count++;
    }
    make_signs(secret, car, serial, right);
    bool same = sodium_memcmp(right, given, sizeof right) == 0;
    sodium_memzero(right, sizeof right);
    sodium_memzero(given, sizeof given);
    return same && count == CODE_SIGNS;
}

void crew_receipt_make(const unsigned char secret[CODE_SECRET_LEN], int64_t car, int64_t number,
                       char text[RECEIPT_LEN + 1]) {
    unsigned char hash[crypto_generichash_BYTES];
    derive(secret, 'r', car, number, hash);
    (void)sodium_bin2hex(text, RECEIPT_LEN + 1, hash, RECEIPT_LEN / 2);
    sodium_memzero(hash, sizeof hash);
}
