/* SPDX-License-Identifier: MIT */
/* folder_check.h - checks a data folder: its disk, who may read and write it, each event file and
 * its copies, and whether the server that has it open can write. Nothing is changed. One thread. */
#ifndef CAIRN_FOLDER_CHECK_H
#define CAIRN_FOLDER_CHECK_H

#include "system/findings.h"

/* backups  the folder of copies, as deploy/backup/backup makes them; NULL for none */
void folder_check(struct findings *f, const char *data_dir, const char *backups);

#endif
