/* SPDX-License-Identifier: MIT */
#include "system/disk_space.h"

#include <stddef.h>
#include <sys/statvfs.h>

int disk_space(const char *path, int64_t *free_mb, int64_t *all_mb, int64_t *free_files) {
    struct statvfs disk;
    const uint64_t mega = 1u << 20;
    if (statvfs(path, &disk) != 0)
        return -1;
    *free_mb = (int64_t)((uint64_t)disk.f_bavail * disk.f_frsize / mega);
    *all_mb = (int64_t)((uint64_t)disk.f_blocks * disk.f_frsize / mega);
    if (free_files != NULL)
        *free_files = disk.f_files == 0 ? -1 : (int64_t)disk.f_favail;
    return 0;
}
