/* SPDX-License-Identifier: MIT */
#include "base/textbuf.h"
#include "store/keys.h"
#include "store/stored_keys.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

void key_make(char text[KEY_TEXT_LEN + 1]) {
    /* 32 signs, five bits each: no 0 and o, no 1 and l. */
    static const char signs[] = "23456789abcdefghijkmnpqrstuvwxyz";
    unsigned char random[KEY_TEXT_LEN];
    randombytes_buf(random, sizeof random);
    for (int i = 0; i < KEY_TEXT_LEN; i++)
        text[i] = signs[random[i] & 31u];
    text[KEY_TEXT_LEN] = '\0';
    sodium_memzero(random, sizeof random);
}

void key_hash(const char *text, unsigned char hash[32]) {
    (void)crypto_generichash(hash, 32, (const unsigned char *)text, strlen(text), NULL, 0);
}

static int find(const struct stored_key *keys, size_t count, const unsigned char hash[32],
                bool revoked) {
    int found = -1;
    for (size_t i = 0; i < count; i++) {
        if (sodium_memcmp(keys[i].hash, hash, sizeof keys[i].hash) == 0 &&
            keys[i].revoked == revoked)
            found = (int)i;
    }
    return found;
}

int key_find(const struct stored_key *keys, size_t count, const unsigned char hash[32]) {
    return find(keys, count, hash, false);
}

bool key_is_revoked(const struct stored_key *keys, size_t count, const unsigned char hash[32]) {
    return find(keys, count, hash, true) >= 0;
}

static bool listed(const char *points, const char *id) {
    size_t len = strlen(id);
    for (const char *p = points; *p != '\0';) {
        size_t word = strcspn(p, ",");
        if (word == len && strncmp(p, id, len) == 0)
            return true;
        p += word + (p[word] == ',');
    }
    return false;
}

bool key_covers_item(const char *points, const struct rules *rules, int item) {
    return listed(points, rules->items[item].id);
}

bool key_covers(const char *points, const struct rules *rules, int point) {
    return listed(points, rules->points[point].id) ||
           key_covers_item(points, rules, rules->points[point].item);
}

bool key_points_are_good(const char *points, const struct rules *rules, char **wrong) {
    for (const char *p = points; *p != '\0';) {
        size_t word = strcspn(p, ",");
        char *id = strndup(p, word);
        if (id == NULL ||
            (strmap_get(&rules->item_by_id, id) < 0 && strmap_get(&rules->point_by_id, id) < 0)) {
            *wrong = id;
            return false;
        }
        free(id);
        p += word + (p[word] == ',');
    }
    return true;
}

/* The longest address that a link is made from. */
enum { BASE_MAX = 200 };

bool key_base_is_good(const char *base) {
    static const char host[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-:[]";
    size_t scheme = strncmp(base, "https://", 8) == 0  ? 8
                    : strncmp(base, "http://", 7) == 0 ? 7
                                                       : 0;
    size_t len = strlen(base);
    return scheme > 0 && len > scheme && len <= BASE_MAX &&
           strspn(base + scheme, host) == len - scheme;
}

void key_link(struct textbuf *b, const char *base, const char *slug, bool organiser,
              const char *key) {
    textbuf_printf(b, "%s/%s/%s#%s", base, slug, organiser ? "office" : "control", key);
}
