/* SPDX-License-Identifier: MIT */
/* event_folder.h - reads an event folder from disk into memory. */
#ifndef CAIRN_EVENT_FOLDER_H
#define CAIRN_EVENT_FOLDER_H

#include "event/event.h"

struct problems;

/* The files of a folder. A plain value; event_folder_clear frees the texts. */
struct event_folder {
    char *texts[6];
    struct event_files files;
};

/* Reads the files of a folder; one that is not there stays NULL.
 *   path      the folder
 *   problems  gets what cannot be read
 * Returns: ERR_OK; ERR_INPUT where the folder itself is not there; ERR_IO; ERR_NOMEM. */
int event_folder_read(const char *path, struct problems *problems, struct event_folder *out);

/* Frees what event_folder_read gave; also after it failed. */
void event_folder_clear(struct event_folder *folder);

#endif
