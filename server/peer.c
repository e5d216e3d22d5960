/* SPDX-License-Identifier: MIT */
#include "peer.h"

#include <netinet/in.h>
#include <string.h>

enum { NETWORK_BYTES = 8 }; /* of IPv6: one household or network has a /64 */

size_t peer_bytes(const struct sockaddr *address, unsigned char bytes[PEER_BYTES_MAX]) {
    if (address != NULL && address->sa_family == AF_INET) {
        memcpy(bytes, &((const struct sockaddr_in *)(const void *)address)->sin_addr, 4);
        return 4;
    }
    if (address != NULL && address->sa_family == AF_INET6) {
        memcpy(bytes, &((const struct sockaddr_in6 *)(const void *)address)->sin6_addr, 16);
        return 16;
    }
    return 0;
}

uint32_t peer_hash(const struct sockaddr *address, uint32_t seed) {
    unsigned char bytes[PEER_BYTES_MAX];
    size_t len = peer_bytes(address, bytes);
    uint32_t hash = 2166136261u ^ seed;
    for (size_t i = 0; i < len && i < NETWORK_BYTES; i++)
        hash = (hash ^ bytes[i]) * 16777619u;
    return hash;
}

bool peer_is_loopback(const struct sockaddr *address) {
    static const unsigned char own[PEER_BYTES_MAX] = {[PEER_BYTES_MAX - 1] = 1};
    unsigned char bytes[PEER_BYTES_MAX];
    size_t len = peer_bytes(address, bytes);
    return len == 4 ? bytes[0] == 127 : len == 16 && memcmp(bytes, own, sizeof own) == 0;
}
