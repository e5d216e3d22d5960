/* SPDX-License-Identifier: MIT */
/* routes.h - the table of every address that cairn serves. */
#ifndef CAIRN_ROUTES_H
#define CAIRN_ROUTES_H

#include "http/server.h"

/* What server_start and server_open are handed. Lives for ever. */
extern const struct app site_app;

#endif
