/* SPDX-License-Identifier: MIT */
#include "live/if_match.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "live/snapshot.h"

void tag_of_paper(const struct paper *paper, char tag[TAG_LEN]) {
    unsigned char hash[16];
    char hex[2 * sizeof hash + 1];
    (void)crypto_generichash(hash, sizeof hash, (const unsigned char *)paper->text, paper->len,
                             NULL, 0);
    (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    (void)snprintf(tag, TAG_LEN, "p%s", hex);
}

void tag_of_decisions(int count, char tag[TAG_LEN]) {
    (void)snprintf(tag, TAG_LEN, "d%d", count);
}

void tag_of_evidence(int said, char tag[TAG_LEN]) {
    (void)snprintf(tag, TAG_LEN, "e%d", said);
}

bool tag_is(const char *value, const char *tag) {
    char quoted[TAG_LEN + 2];
    char compressed[TAG_LEN + 5];
    (void)snprintf(quoted, sizeof quoted, "\"%s\"", tag);
    (void)snprintf(compressed, sizeof compressed, "\"%s-gz\"", tag);
    return strcmp(value, "*") == 0 || strstr(value, quoted) != NULL ||
           strstr(value, compressed) != NULL;
}

bool tag_is_paper(const char *value, const struct paper *paper) {
    char tag[TAG_LEN];
    tag_of_paper(paper, tag);
    return tag_is(value, tag);
}

bool tag_is_decisions(const char *value, int count) {
    char tag[TAG_LEN];
    tag_of_decisions(count, tag);
    return tag_is(value, tag);
}

bool tag_is_revision(const char *value, int64_t revision) {
    char begin[32];
    (void)snprintf(begin, sizeof begin, "\"o%lld-", (long long)revision);
    return strcmp(value, "*") == 0 || strstr(value, begin) != NULL;
}
