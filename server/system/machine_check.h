/* SPDX-License-Identifier: MIT */
/* machine_check.h - checks the machine that it runs on: clock, open files, memory, a disk. Nothing
 * is changed. One thread. */
#ifndef CAIRN_MACHINE_CHECK_H
#define CAIRN_MACHINE_CHECK_H

#include <stdbool.h>
#include <stdint.h>

#include "system/findings.h"

/* Clock, open files, memory. */
void machine_check(struct findings *f);

/* What is concluded from figures; apart, so that tests can give the figures.
 *   synchronised  what the kernel says; error_us: its own limit of error, microseconds
 *   free_mb, all_mb  megabytes of a disk that others than root may use, and in all; free_files:
 *                    inodes, -1 where the file system does not count them
 *   open_files    how many a process may have
 *   memory_mb     that can be had without swapping, -1 where the system does not say */
void machine_check_clock(struct findings *f, bool synchronised, int64_t error_us);
void machine_check_disk(struct findings *f, const char *path, int64_t free_mb, int64_t all_mb,
                        int64_t free_files);
void machine_check_open_files(struct findings *f, int64_t open_files);
void machine_check_memory(struct findings *f, int64_t memory_mb);

#endif
