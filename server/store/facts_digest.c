/* SPDX-License-Identifier: MIT */
#include "store/facts_digest.h"

#include <inttypes.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"

enum { SUM_DIGITS = 16 };

static uint64_t number_of(const unsigned char hash[8]) {
    uint64_t number = 0;
    for (int i = 0; i < 8; i++)
        number = number << 8 | hash[i];
    return number;
}

/* crypto_generichash makes no less than 16 bytes; half of them will do. */
static uint64_t hash_of(const char *text, size_t len) {
    unsigned char hash[crypto_generichash_BYTES_MIN];
    (void)crypto_generichash(hash, sizeof hash, (const unsigned char *)text, len, NULL, 0);
    return number_of(hash);
}

/* Each text with its NUL, so that none runs into the next. */
void facts_digest_add(uint64_t *sum, const char *id, const char *const *fields, size_t count) {
    unsigned char hash[crypto_generichash_BYTES_MIN];
    crypto_generichash_state state;
    (void)crypto_generichash_init(&state, NULL, 0, sizeof hash);
    (void)crypto_generichash_update(&state, (const unsigned char *)id, strlen(id) + 1);
    for (size_t i = 0; i < count; i++)
        (void)crypto_generichash_update(&state, (const unsigned char *)fields[i],
                                        strlen(fields[i]) + 1);
    (void)crypto_generichash_final(&state, hash, sizeof hash);
    *sum += number_of(hash);
}

void facts_digest_add_document(struct facts_digest *digest, const char *name, const char *text,
                               size_t len) {
    /* The name's hash keeps two documents from standing for each other. */
    if (len > 0)
        digest->document_sum += hash_of(text, len) * (hash_of(name, strlen(name)) | 1u);
}

void facts_digest_write(const struct facts_digest *digest, struct textbuf *b) {
    textbuf_printf(b, "%d-%016" PRIx64 ".%d-%016" PRIx64 ".%016" PRIx64, digest->readings,
                   digest->reading_sum, digest->decisions, digest->decision_sum,
                   digest->document_sum);
}

/* The next count and its dash. */
static bool take_count(const char **at, int *out) {
    char digits[12];
    int64_t number;
    size_t len = strcspn(*at, "-");
    if (len == 0 || len >= sizeof digits || (*at)[len] != '-')
        return false;
    memcpy(digits, *at, len);
    digits[len] = '\0';
    if (decimal_parse_whole(digits, 0, INT32_MAX, &number) != ERR_OK)
        return false;
    *out = (int)number;
    *at += len + 1;
    return true;
}

/* The next sum, and the character behind it. */
static bool take_sum(const char **at, char behind, uint64_t *out) {
    unsigned char bytes[SUM_DIGITS / 2];
    size_t len = 0;
    if (strspn(*at, "0123456789abcdef") != SUM_DIGITS || (*at)[SUM_DIGITS] != behind ||
        sodium_hex2bin(bytes, sizeof bytes, *at, SUM_DIGITS, NULL, &len, NULL) != 0)
        return false;
    *out = number_of(bytes);
    *at += SUM_DIGITS + (behind != '\0');
    return true;
}

bool facts_digest_parse(const char *word, struct facts_digest *out) {
    *out = (struct facts_digest){0};
    if (strcmp(word, "0") == 0)
        return true;
    return take_count(&word, &out->readings) && take_sum(&word, '.', &out->reading_sum) &&
           take_count(&word, &out->decisions) && take_sum(&word, '.', &out->decision_sum) &&
           take_sum(&word, '\0', &out->document_sum);
}
