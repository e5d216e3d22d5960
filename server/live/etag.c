/* SPDX-License-Identifier: MIT */
#include "live/etag.h"

#include <sodium.h>
#include <stdio.h>
#include <string.h>

#include "live/snapshot.h"

void etag_of_document(const struct sent_document *document, char tag[ETAG_LEN]) {
    unsigned char hash[16];
    char hex[2 * sizeof hash + 1];
    (void)crypto_generichash(hash, sizeof hash, (const unsigned char *)document->text,
                             document->len, NULL, 0);
    (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    (void)snprintf(tag, ETAG_LEN, "p%s", hex);
}

void etag_of_decisions(int count, char tag[ETAG_LEN]) {
    (void)snprintf(tag, ETAG_LEN, "d%d", count);
}

void etag_of_evidence(int count, char tag[ETAG_LEN]) {
    (void)snprintf(tag, ETAG_LEN, "e%d", count);
}

bool etag_is(const char *value, const char *tag) {
    char quoted[ETAG_LEN + 2];
    char compressed[ETAG_LEN + 5];
    (void)snprintf(quoted, sizeof quoted, "\"%s\"", tag);
    (void)snprintf(compressed, sizeof compressed, "\"%s-gz\"", tag);
    return strcmp(value, "*") == 0 || strstr(value, quoted) != NULL ||
           strstr(value, compressed) != NULL;
}

bool etag_is_document(const char *value, const struct sent_document *document) {
    char tag[ETAG_LEN];
    etag_of_document(document, tag);
    return etag_is(value, tag);
}

bool etag_is_decisions(const char *value, int count) {
    char tag[ETAG_LEN];
    etag_of_decisions(count, tag);
    return etag_is(value, tag);
}

bool etag_is_revision(const char *value, int64_t revision) {
    char begin[32];
    (void)snprintf(begin, sizeof begin, "\"o%lld-", (long long)revision);
    return strcmp(value, "*") == 0 || strstr(value, begin) != NULL;
}
