/* SPDX-License-Identifier: MIT */
#include "office/doubt_id.h"

#include <sodium.h>
#include <string.h>

void doubt_id_make(char id[DOUBT_ID_LEN + 1], const char *const *parts, size_t count) {
    crypto_generichash_state state;
    unsigned char hash[crypto_generichash_BYTES_MIN];
    (void)crypto_generichash_init(&state, NULL, 0, sizeof hash);
    for (size_t i = 0; i < count; i++) /* the NUL too: "ab", "c" is not "a", "bc" */
        (void)crypto_generichash_update(&state, (const unsigned char *)parts[i],
                                        strlen(parts[i]) + 1);
    (void)crypto_generichash_final(&state, hash, sizeof hash);
    (void)sodium_bin2hex(id, DOUBT_ID_LEN + 1, hash, DOUBT_ID_LEN / 2);
}

bool doubt_id_is_good(const char *id) {
    return strlen(id) == DOUBT_ID_LEN && id[strspn(id, "0123456789abcdef")] == '\0';
}
