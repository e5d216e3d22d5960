/* SPDX-License-Identifier: MIT */
/* event_folder.h - reads an event folder from disk into memory. */
#ifndef CAIRN_EVENT_FOLDER_H
#define CAIRN_EVENT_FOLDER_H

#include <stdbool.h>

#include "event/event.h"

struct problems;

/* The five files of a folder. A plain value; event_folder_clear frees the texts. */
struct event_folder {
    char *texts[5];
    struct event_files files;
};

/* Reads the files of a folder; one that is not there stays NULL.
 *   path      the folder
 *   problems  gets what cannot be read
 * Returns: ERR_OK; ERR_INPUT where the folder itself is not there; ERR_IO; ERR_NOMEM. */
int event_folder_read(const char *path, struct problems *problems, struct event_folder *out);

/* Frees what event_folder_read gave; also after it failed. */
void event_folder_clear(struct event_folder *folder);

/* Reads one whole file. Returns ERR_OK; ERR_UNKNOWN where it is not there; ERR_IO; ERR_NOMEM.
 * Owner: the caller frees *text. */
int file_read(const char *path, char **text, size_t *len);

/* Reads an open file to its end; it stays open. Returns and owner as for file_read. */
int descriptor_read(int fd, char **text, size_t *len);

/* Brings a file that was written beside its place to the disk, and then moves it there.
 *   replace  what is there goes; else nothing may be there
 * Returns: ERR_OK; ERR_CONFLICT where something is there; ERR_IO with errno. */
int file_put(const char *part, const char *path, bool replace);

/* Writes a file into a folder: beside it first, then moved into place, so that it is never half
 * there. Returns: ERR_OK; ERR_IO, told on standard error; ERR_NOMEM. */
int file_write(const char *folder, const char *name, const char *bytes, size_t len);

#endif
