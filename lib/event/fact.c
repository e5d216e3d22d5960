/* SPDX-License-Identifier: MIT */
#include "event/fact.h"

#include <sodium.h>
#include <string.h>

#include "base/textbuf.h"

/* Called for each row of a large file: this loop is many times faster than strspn with the set of
 * characters. */
bool fact_id_is_good(const char *id) {
    size_t len = 0;
    for (; id[len] != '\0'; len++) {
        char c = id[len];
        bool good = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                    c == '.' || c == '_' || c == ':' || c == '-';
        if (!good || len == FACT_ID_MAX)
            return false;
    }
    return len > 0;
}

static void derive(const char *const *fields, size_t count, char id[FACT_ID_MAX + 1]) {
    enum { HASHED = 16 };
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256_state state;
    crypto_hash_sha256_init(&state);
    for (size_t i = 0; i < count; i++) {
        if (i > 0)
            crypto_hash_sha256_update(&state, (const unsigned char *)"|", 1);
        crypto_hash_sha256_update(&state, (const unsigned char *)fields[i], strlen(fields[i]));
    }
    crypto_hash_sha256_final(&state, hash);
    (void)sodium_bin2hex(id, FACT_ID_MAX + 1, hash, HASHED);
}

void fact_derive_id(const char *const *fields, size_t count, struct textbuf *id) {
    char text[FACT_ID_MAX + 1];
    derive(fields, count, text);
    textbuf_puts(id, text);
}

void fact_id(const char *const *fields, size_t count, char id[FACT_ID_MAX + 1]) {
    size_t given = strlen(fields[count]);
    if (given == 0 || given > FACT_ID_MAX)
        derive(fields, count, id);
    else
        memcpy(id, fields[count], given + 1);
}

bool fact_same(const char *const *a, const char *const *b, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (strcmp(a[i], b[i]) != 0)
            return false;
    }
    return true;
}

bool fact_before(bool a_has_at, struct instant a_at, const char *a_id, bool b_has_at,
                 struct instant b_at, const char *b_id) {
    if (a_has_at != b_has_at)
        return a_has_at;
    int order = a_has_at ? instant_compare(a_at, b_at) : 0;
    return order != 0 ? order < 0 : strcmp(a_id, b_id) < 0;
}
