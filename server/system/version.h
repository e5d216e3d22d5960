/* SPDX-License-Identifier: MIT */
/* version.h - the version, for `cairn --version`, /metrics and the tags of answers. The changelog
 * of the package names the same. */
#ifndef CAIRN_VERSION_H
#define CAIRN_VERSION_H

#define CAIRN_VERSION "0.1"

#endif
