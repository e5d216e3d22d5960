/* SPDX-License-Identifier: MIT */
/* assets.h - files of the tree that are part of the program. */
#ifndef CAIRN_ASSETS_H
#define CAIRN_ASSETS_H

struct asset {
    const char *name;       /* path in the tree, such as "web/style.css" */
    const char *media_type; /* for HTTP */
    const char *bytes;      /* followed by a NUL */
    const char *end;        /* where that NUL stands */
};

/* The asset of that name, NULL where there is none. */
const struct asset *asset_find(const char *name);

#endif
