/* SPDX-License-Identifier: MIT */
#ifndef CAIRN_NOTIFY_H
#define CAIRN_NOTIFY_H

/* Tells the service manager how this program stands, as sd_notify(3) describes: one datagram to
 * the socket that the environment names in NOTIFY_SOCKET (a path, or with @ a name of the kernel's
 * own). `state` is what to say: "READY=1", "STOPPING=1". Without a manager that asked for it, or
 * where it cannot be reached, nothing happens: the program does not depend on being managed. Not
 * for use beside threads that change the environment. */
void notify_manager(const char *state);

#endif
