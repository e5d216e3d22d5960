/* SPDX-License-Identifier: MIT */
#include "system/client_address.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <string.h>

enum { NETWORK_BYTES = 8 }; /* of IPv6: one household or network has a /64 */

/* Takes the four bytes of IPv4 out of those of IPv6 that stand for them. */
static size_t unmapped(unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]) {
    static const unsigned char before[12] = {[10] = 0xff, [11] = 0xff};
    if (memcmp(bytes, before, sizeof before) != 0)
        return 16;
    memmove(bytes, bytes + sizeof before, 4);
    return 4;
}

size_t client_address_bytes(const struct sockaddr *address,
                            unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]) {
    if (address != NULL && address->sa_family == AF_INET) {
        memcpy(bytes, &((const struct sockaddr_in *)(const void *)address)->sin_addr, 4);
        return 4;
    }
    if (address != NULL && address->sa_family == AF_INET6) {
        memcpy(bytes, &((const struct sockaddr_in6 *)(const void *)address)->sin6_addr, 16);
        return unmapped(bytes);
    }
    return 0;
}

size_t client_address_parse(const char *text, size_t len,
                            unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]) {
    char word[INET6_ADDRSTRLEN];
    if (len >= sizeof word)
        return 0;
    memcpy(word, text, len);
    word[len] = '\0';
    if (inet_pton(AF_INET, word, bytes) == 1)
        return 4;
    return inet_pton(AF_INET6, word, bytes) == 1 ? unmapped(bytes) : 0;
}

struct client_address client_address_of_bytes(const unsigned char *bytes, size_t len) {
    struct client_address peer = {.len = len > NETWORK_BYTES ? NETWORK_BYTES : len};
    memcpy(peer.bytes, bytes, peer.len);
    return peer;
}

bool client_address_same(const struct client_address *a, const struct client_address *b) {
    return a->len == b->len && memcmp(a->bytes, b->bytes, a->len) == 0;
}

bool client_address_bytes_are_loopback(const unsigned char *bytes, size_t len) {
    static const unsigned char own[CLIENT_ADDRESS_BYTES_MAX] = {[CLIENT_ADDRESS_BYTES_MAX - 1] = 1};
    return len == 4 ? bytes[0] == 127 : len == 16 && memcmp(bytes, own, sizeof own) == 0;
}

bool client_address_is_loopback(const struct sockaddr *address) {
    unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX] = {0};
    return client_address_bytes_are_loopback(bytes, client_address_bytes(address, bytes));
}
