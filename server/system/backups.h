/* SPDX-License-Identifier: MIT */
/* backups.h - the folder of copies of event files, as deploy/backup/backup makes them. */
#ifndef CAIRN_BACKUPS_H
#define CAIRN_BACKUPS_H

#include <stdint.h>

/* Copies are made every five minutes. From these ages on, in minutes, the newest is reported as
 * doubtful, or as bad. */
enum { BACKUP_DOUBTFUL_MINUTES = 15, BACKUP_BAD_MINUTES = 24 * 60 };

enum { BACKUPS_NONE = -1, BACKUPS_UNREADABLE = -2 };

/* When the newest copy of an event was made.
 *   folder  of copies, SLUG.cairn or SLUG.MOMENT.cairn
 * Returns: seconds since 1970; BACKUPS_NONE; BACKUPS_UNREADABLE with errno. Any thread. */
int64_t backups_newest(const char *folder, const char *slug);

#endif
