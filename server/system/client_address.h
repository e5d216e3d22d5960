/* SPDX-License-Identifier: MIT */
/* client_address.h - who is at the other end of a connection. Addresses are distinguished as
 * networks give them out: one of IPv4 by itself, of IPv6 by its first 64 bits. Any thread. */
#ifndef CAIRN_CLIENT_ADDRESS_H
#define CAIRN_CLIENT_ADDRESS_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/socket.h>

enum { CLIENT_ADDRESS_BYTES_MAX = 16 };

/* The household or network that an address belongs to. A plain value; {0} is none of the
 * internet's. */
struct client_address {
    unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX];
    size_t len; /* 4 of IPv4, 8 of IPv6, 0 of none */
};

/* The bytes of an address; one of IPv4 that is written as one of IPv6 (::ffff:192.0.2.1) has those
 * of IPv4.
 *   address  may be NULL
 *   bytes    gets them; room for CLIENT_ADDRESS_BYTES_MAX
 * Returns: how many, 4 or 16; 0 where it is none of the internet's. */
size_t client_address_bytes(const struct sockaddr *address,
                            unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]);

/* The bytes of an address that is written out in `len` signs.
 * Returns: as client_address_bytes. */
size_t client_address_parse(const char *text, size_t len,
                            unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]);

/* Whose address those bytes are; `len` as client_address_bytes gives it. */
struct client_address client_address_of_bytes(const unsigned char *bytes, size_t len);

/* True where both are the same household or network. */
bool client_address_same(const struct client_address *a, const struct client_address *b);

/* True where the bytes are one of this machine's own: 127.0.0.0/8 or ::1. */
bool client_address_bytes_are_loopback(const unsigned char *bytes, size_t len);

/* The same for an address, which may be NULL. */
bool client_address_is_loopback(const struct sockaddr *address);

#endif
