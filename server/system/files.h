/* SPDX-License-Identifier: MIT */
/* files.h - whole files, read at once and replaced at once. Any thread. */
#ifndef CAIRN_FILES_H
#define CAIRN_FILES_H

#include <stdbool.h>
#include <stddef.h>

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
