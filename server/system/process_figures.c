/* SPDX-License-Identifier: MIT */
#include "system/process_figures.h"

#include <dirent.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <unistd.h>

int64_t process_resident_bytes(void) {
    FILE *f = fopen("/proc/self/statm", "re");
    long long size = 0;
    long long resident = -1;
    if (f == NULL)
        return -1;
    // NOLINTNEXTLINE(cert-err34-c) the kernel's own figures are numbers
    bool read = fscanf(f, "%lld %lld", &size, &resident) == 2;
    (void)fclose(f);
    return read ? (int64_t)resident * sysconf(_SC_PAGESIZE) : -1;
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
