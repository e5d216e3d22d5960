/* SPDX-License-Identifier: MIT */
#include "system/process_figures.h"

#include <dirent.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <sys/statvfs.h>
#include <time.h>
#include <unistd.h>

int64_t process_resident_bytes(void) {
    FILE *f = fopen("/proc/self/statm", "re");
    long long size = 0;
    long long resident = -1;
    if (f == NULL)
        return -1;
    // NOLINTNEXTLINE(cert-err34-c) the kernel's own figures are numbers
    bool told = fscanf(f, "%lld %lld", &size, &resident) == 2;
    (void)fclose(f);
    return told ? (int64_t)resident * sysconf(_SC_PAGESIZE) : -1;
}

int64_t process_open_files(void) {
    DIR *dir = opendir("/proc/self/fd");
    int64_t count = -1; /* the folder itself is among them while it is read */
    if (dir == NULL)
        return -1;
    for (const struct dirent *entry; (entry = readdir(dir)) != NULL;)
        count += entry->d_name[0] != '.';
    (void)closedir(dir);
    return count;
}

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

int64_t monotonic_microseconds(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}
