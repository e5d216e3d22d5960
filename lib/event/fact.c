/* SPDX-License-Identifier: MIT */
#include "event/fact.h"

#include <sodium.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/textbuf.h"

/* Called for each row of a large file: a loop of its own is many times faster than a search in a
 * set of characters. */
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

void fact_derive_id(const char *const *fields, size_t count, struct textbuf *id) {
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256_state state;
    crypto_hash_sha256_init(&state);
    for (size_t i = 0; i < count; i++) {
        if (i > 0)
            crypto_hash_sha256_update(&state, (const unsigned char *)"|", 1);
        crypto_hash_sha256_update(&state, (const unsigned char *)fields[i], strlen(fields[i]));
    }
    crypto_hash_sha256_final(&state, hash);
    for (int i = 0; i < 16; i++)
        textbuf_printf(id, "%02x", hash[i]);
}

bool fact_same(const char *const *a, const char *const *b, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (strcmp(a[i], b[i]) != 0)
            return false;
    }
    return true;
}

int fact_keep(struct arena *arena, const char *const *from, size_t count, const char **to) {
    for (size_t i = 0; i < count; i++) {
        /* Most fields are empty: they share one constant. */
        to[i] = *from[i] == '\0' ? "" : arena_text(arena, from[i], strlen(from[i]));
        if (to[i] == NULL)
            return ERR_NOMEM;
    }
    return ERR_OK;
}

int fact_keep_extras(struct arena *arena, const struct extra *from, struct extra **to) {
    for (*to = NULL; from != NULL; from = from->next) {
        struct extra *copy = arena_alloc(arena, sizeof *copy);
        if (copy == NULL)
            return ERR_NOMEM;
        copy->name = arena_text(arena, from->name, strlen(from->name));
        copy->value = arena_text(arena, from->value, strlen(from->value));
        if (copy->name == NULL || copy->value == NULL)
            return ERR_NOMEM;
        *to = copy;
        to = &copy->next;
    }
    return ERR_OK;
}

bool fact_before(bool a_has_at, struct instant a_at, const char *a_id, bool b_has_at,
                 struct instant b_at, const char *b_id) {
    if (a_has_at != b_has_at)
        return a_has_at;
    int order = a_has_at ? instant_compare(a_at, b_at) : 0;
    return order != 0 ? order < 0 : strcmp(a_id, b_id) < 0;
}
