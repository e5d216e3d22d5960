/* SPDX-License-Identifier: MIT */
/* notify.h - tells the service manager how this program stands, as sd_notify(3) describes. */
#ifndef CAIRN_NOTIFY_H
#define CAIRN_NOTIFY_H

/* Sends one datagram to the socket that the environment variable NOTIFY_SOCKET names (a path, or
 * with "@" an abstract name). Does nothing where the variable is not set or the socket cannot be
 * reached, and never waits. Any thread, while none changes the environment.
 *   state  what to tell: "READY=1", "STOPPING=1" */
void notify_manager(const char *state);

#endif
