/* SPDX-License-Identifier: MIT */
/* process_figures.h - what the system tells of this process and of a disk. Any thread. */
#ifndef CAIRN_PROCESS_FIGURES_H
#define CAIRN_PROCESS_FIGURES_H

#include <stdint.h>

/* Memory of this process that is in use and not on disk, bytes; -1 where it is not told. */
int64_t process_resident_bytes(void);

/* Files that this process has open, connections among them; -1 where it is not told. */
int64_t process_open_files(void);

/* Room on the disk that holds a path, for others than root.
 *   free_mb, all_mb  get megabytes
 *   free_files       gets inodes, -1 where the file system does not count them; may be NULL
 * Returns: 0, or -1 with errno. */
int disk_space(const char *path, int64_t *free_mb, int64_t *all_mb, int64_t *free_files);

/* Microseconds of the clock that is never set. */
int64_t monotonic_microseconds(void);

#endif
