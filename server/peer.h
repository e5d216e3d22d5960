/* SPDX-License-Identifier: MIT */
/* peer.h - who is at the other end of a connection. Addresses are told apart as networks give them
 * out: one of IPv4 by itself, of IPv6 by its first 64 bits. Any thread. */
#ifndef CAIRN_PEER_H
#define CAIRN_PEER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/socket.h>

enum { PEER_BYTES_MAX = 16 };

/* The bytes of an address.
 *   address  may be NULL
 *   bytes    gets them; room for PEER_BYTES_MAX
 * Returns: how many, 4 or 16; 0 where it is none of the internet's. */
size_t peer_bytes(const struct sockaddr *address, unsigned char bytes[PEER_BYTES_MAX]);

/* A number for the household or network that an address belongs to. The same for all addresses
 * that are none. */
uint32_t peer_hash(const struct sockaddr *address, uint32_t seed);

/* True where the address is one of this machine's own: 127.0.0.0/8 or ::1. */
bool peer_is_loopback(const struct sockaddr *address);

#endif
