/* SPDX-License-Identifier: MIT */
/* presets.h - blank events to begin from, one for each published rule set that cairn knows: its
 * classes, what it charges, and a short route of the kinds it uses. Where a rule set says nothing
 * of something, the plain values of cairn's own example stand there, and the source says so. */
#ifndef CAIRN_PRESETS_H
#define CAIRN_PRESETS_H

#include <stddef.h>

struct preset {
    const char *name;   /* for --rules */
    const char *title;  /* one line */
    const char *source; /* where its values come from, and which are cairn's own */
    const char *asset;  /* its event.json, see assets.h */
};

extern const struct preset presets[];
extern const size_t preset_count;

/* The preset of that name, NULL where there is none. */
const struct preset *preset_find(const char *name);

#endif
