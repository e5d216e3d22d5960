/* SPDX-License-Identifier: MIT */
/* doctor.h - checks the machine, the data folder and the network, before and during an event.
 * Each finding is one line that begins with "good: ", "doubtful: " or "bad: ". Nothing is changed.
 * One thread. */
#ifndef CAIRN_DOCTOR_H
#define CAIRN_DOCTOR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/textbuf.h"

enum finding {
    FINDING_GOOD,     /* as it should be */
    FINDING_DOUBTFUL, /* a person should look; the event can go on */
    FINDING_BAD       /* to be mended before anything else */
};

/* What was found so far. Zero before the first finding; `report` is the caller's to clear. */
struct doctor {
    struct textbuf report;
    int counts[FINDING_BAD + 1];
};

/* Adds a line. Text that others wrote is given as an argument, never as the format; control
 * characters in it are written as "?". */
void doctor_add(struct doctor *d, enum finding finding, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The machine: clock, open files, memory. */
void doctor_machine(struct doctor *d);

/* What doctor_machine and doctor_folder conclude from figures; apart, so that tests can give the
 * figures.
 *   synchronised  what the kernel says; error_us: its own limit of error, microseconds
 *   free_mb, all_mb  megabytes of a disk that others than root may use, and in all; free_files:
 *                    inodes, -1 where the file system does not count them
 *   open_files    how many a process may have
 *   memory_mb     that can be had without swapping, -1 where the system does not say */
void doctor_clock(struct doctor *d, bool synchronised, int64_t error_us);
void doctor_disk(struct doctor *d, const char *path, int64_t free_mb, int64_t all_mb,
                 int64_t free_files);
void doctor_open_files(struct doctor *d, int64_t open_files);
void doctor_memory(struct doctor *d, int64_t memory_mb);

/* The data folder: its disk, who may read and write it, each event file.
 *   backups  the folder of copies, as deploy/backup/backup makes them; NULL for none */
void doctor_folder(struct doctor *d, const char *data_dir, const char *backups);

/* A certificate, and its key: dates, whether they belong together, who may read the key.
 *   key_file  NULL: the certificate alone */
void doctor_certificate(struct doctor *d, const char *cert_file, const char *key_file);

/* How long a certificate is good, seconds since 1970.
 *   what  names it in the finding */
void doctor_dates(struct doctor *d, const char *what, int64_t from, int64_t until, int64_t now);

/* Asks a server whether it is well, and whether it can write: `url` is http:// or https:// and a
 * host, with or without a port and a path, which does not count. With https its certificate is
 * checked as a browser does. Takes 20 seconds at most. */
void doctor_url(struct doctor *d, const char *url);

/* Judges the body that a server answers /healthz with. */
void doctor_health(struct doctor *d, const char *url, const char *body, size_t len);

#endif
