/* SPDX-License-Identifier: MIT */
/* server_check.h - asks a server whether it is well. Nothing is changed. One thread. */
#ifndef CAIRN_SERVER_CHECK_H
#define CAIRN_SERVER_CHECK_H

#include <stddef.h>

#include "system/findings.h"

/* Asks whether it answers, and whether it can write: `url` is http:// or https:// and a host, with
 * or without a port and a path, which does not count. With https its certificate is checked as a
 * browser does. Takes 20 seconds at most. */
void server_check(struct findings *f, const char *url);

/* Judges the body that a server answers /healthz with. */
void server_check_health(struct findings *f, const char *url, const char *body, size_t len);

#endif
