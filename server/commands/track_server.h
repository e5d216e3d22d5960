/* SPDX-License-Identifier: MIT */
/* track_server.h - the event of a running server, for `cairn track`: its rules and entries are
 * asked for with an organiser's key, and readings are sent to it. What is wrong is reported on
 * standard error. One owner. */
#ifndef CAIRN_TRACK_SERVER_H
#define CAIRN_TRACK_SERVER_H

#include <stdbool.h>

struct model;
struct textbuf;
struct track_server;

/* True where an operand is an address and no folder. */
bool track_server_is_address(const char *operand);

/* Asks a server for its event.
 *   address   as people give it, perhaps with the key; the key is blotted out of it
 *   key_file  a file with the key; NULL: the key of the address, else CAIRN_KEY
 *   ca_file   certificates to trust instead of the system's; NULL
 *   out       set in any case; see track_server_close
 *   model     the event, without readings; the caller's, see model_free
 * Returns an exit code. */
int track_server_open(char *address, const char *key_file, const char *ca_file,
                      struct track_server **out, struct model **model);

/* Sends a table of readings, again and again until the server has each or refuses it, and says how
 * many were new. Returns an exit code. */
int track_server_send(struct track_server *server, const struct textbuf *csv);

/* Wipes the key and frees the server; NULL is accepted. */
void track_server_close(struct track_server *server);

#endif
