/* SPDX-License-Identifier: MIT */
/* assets.h - files of the tree that are part of the program. */
#ifndef CAIRN_ASSETS_H
#define CAIRN_ASSETS_H

#include <stddef.h>

struct asset {
    const char *name;       /* path in the tree, such as "web/board/style.css" */
    const char *media_type; /* for HTTP */
    const char *bytes;      /* followed by a NUL */
    const char *end;        /* where that NUL stands */
};

/* The asset of that name, NULL where there is none. */
const struct asset *asset_find(const char *name);

/* Those that pages load: everything under web/ that is no template. They are served as
 * /_/VERSION/NAME, NAME being the last part of their path. `index` from 0; NULL past the end. */
const struct asset *asset_served(size_t index);

/* The served asset of that last part, NULL where there is none. */
const struct asset *asset_served_find(const char *name);

/* The last part of an asset's path. */
const char *asset_base(const struct asset *asset);

/* A version of all served assets together: it changes with any byte of them, so that they may be
 * kept for ever under it. 16 hex digits and a NUL. */
enum { ASSET_VERSION_LEN = 16 };
void asset_version(char version[ASSET_VERSION_LEN + 1]);

#endif
