/* SPDX-License-Identifier: MIT */
#include "system/machine_check.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/timex.h>

#include "system/disk_space.h"

/* Below the first it is bad, below the second doubtful. */
enum {
    DISK_BAD_MB = 200, /* a large event is some tens of megabytes; copies come on top */
    DISK_BAD_INODES = 1000,
    FILES_BAD = 1024, /* the usual limit: a thousand spectators */
    FILES_DOUBTFUL = 4096,
    MEMORY_BAD_MB = 64,
    MEMORY_DOUBTFUL_MB = 256,
    CLOCK_DOUBTFUL_US = 500000 /* desks set their clocks by the server's */
};

void machine_check_clock(struct findings *f, bool synchronised, int64_t error_us) {
    if (!synchronised)
        findings_add(f, FINDING_DOUBTFUL,
                     "clock: nobody has told the kernel that it is synchronised; desks set their "
                     "clocks by it (is chrony or another time service running?)");
    else if (error_us > CLOCK_DOUBTFUL_US)
        findings_add(f, FINDING_DOUBTFUL, "clock: synchronised, but up to %" PRId64 " ms out",
                     error_us / 1000);
    else
        findings_add(f, FINDING_GOOD, "clock: synchronised, at most %" PRId64 " ms out",
                     error_us / 1000);
}

void machine_check_disk(struct findings *f, const char *path, int64_t free_mb, int64_t all_mb,
                        int64_t free_files) {
    enum finding found = free_mb < DISK_BAD_MB        ? FINDING_BAD
                         : free_mb < DISK_DOUBTFUL_MB ? FINDING_DOUBTFUL
                                                      : FINDING_GOOD;
    findings_add(f, found, "disk: %s: %" PRId64 " MB of %" PRId64 " MB free", path, free_mb,
                 all_mb);
    if (free_files >= 0 && free_files < DISK_BAD_INODES)
        findings_add(f, FINDING_BAD, "disk: %s: room for %" PRId64 " more files only", path,
                     free_files);
}

void machine_check_open_files(struct findings *f, int64_t open_files) {
    enum finding found = open_files < FILES_BAD        ? FINDING_BAD
                         : open_files < FILES_DOUBTFUL ? FINDING_DOUBTFUL
                                                       : FINDING_GOOD;
    findings_add(f, found,
                 "open files: %" PRId64 " for a process started from here; each spectator with a "
                 "live page takes one",
                 open_files);
}

void machine_check_memory(struct findings *f, int64_t memory_mb) {
    if (memory_mb < 0)
        findings_add(f, FINDING_DOUBTFUL, "memory: the system does not tell how much there is");
    else
        findings_add(f,
                     memory_mb < MEMORY_BAD_MB        ? FINDING_BAD
                     : memory_mb < MEMORY_DOUBTFUL_MB ? FINDING_DOUBTFUL
                                                      : FINDING_GOOD,
                     "memory: %" PRId64 " MB to be had", memory_mb);
}

/* MemAvailable of /proc/meminfo, in megabytes; -1 where the system does not say. */
static int64_t available_memory(void) {
    static const char name[] = "MemAvailable:";
    FILE *f = fopen("/proc/meminfo", "re");
    char line[128];
    int64_t found = -1;
    while (f != NULL && found < 0 && fgets(line, sizeof line, f) != NULL) {
        if (strncmp(line, name, sizeof name - 1) == 0)
            found = strtoll(line + sizeof name - 1, NULL, 10) / 1024;
    }
    if (f != NULL)
        (void)fclose(f);
    return found;
}

void machine_check(struct findings *f) {
    struct timex now = {.modes = 0};
    struct rlimit files = {0};
    int state = adjtimex(&now);
    machine_check_clock(f, state >= 0 && state != TIME_ERROR && (now.status & STA_UNSYNC) == 0,
                        now.maxerror);
    /* The hard one: the server raises its own up to there. */
    if (getrlimit(RLIMIT_NOFILE, &files) == 0)
        machine_check_open_files(f,
                                 files.rlim_max > INT32_MAX ? INT32_MAX : (int64_t)files.rlim_max);
    machine_check_memory(f, available_memory());
}
