/* SPDX-License-Identifier: MIT */
/* sending.h - what the commands that send to a server have in common. */
#ifndef CAIRN_SENDING_H
#define CAIRN_SENDING_H

#include <signal.h>
#include <stdbool.h>

struct command;
struct event_address;

/* Not 0 once the person has asked to stop (Ctrl-C); set by a signal. */
extern volatile sig_atomic_t sending_stop;

/* From now on SIGINT and SIGTERM set sending_stop; a second one ends the program. */
void sending_catch_signals(void);

/* The key: of the file named, of the link, of the environment.
 *   key_file  NULL where none is named
 *   key       the caller's, see event_key_free; NULL where there is none
 * Returns an exit code; what is wrong is told. */
int sending_find_key(const struct command *command, const char *key_file, bool quiet,
                     struct event_address *address, char **key);

#endif
