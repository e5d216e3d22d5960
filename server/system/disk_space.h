/* SPDX-License-Identifier: MIT */
/* disk_space.h - how much room a disk has left. Any thread. */
#ifndef CAIRN_DISK_SPACE_H
#define CAIRN_DISK_SPACE_H

#include <stdint.h>

/* With less room than this a disk is reported as doubtful. */
enum { DISK_DOUBTFUL_MB = 2000 };

/* Room on the disk that holds a path, for others than root.
 *   free_mb, all_mb  get megabytes
 *   free_files       gets inodes, -1 where the file system does not count them; may be NULL
 * Returns: 0, or -1 with errno. */
int disk_space(const char *path, int64_t *free_mb, int64_t *all_mb, int64_t *free_files);

#endif
