/* SPDX-License-Identifier: MIT */
/* files.h - whole files, read at once and replaced at once. Any thread. */
#ifndef CAIRN_FILES_H
#define CAIRN_FILES_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* Reads one whole file.
 *   text  NUL-terminated, for the caller to free; NULL where it could not be read
 * Returns: ERR_OK; ERR_UNKNOWN where it is not there, or ERR_IO, both with errno; ERR_NOMEM. */
int file_read(const char *path, char **text, size_t *len);

/* The same for a file of at most so many bytes, which may be secret: no other copy of them stays in
 * memory, unless the file is a pipe and longer than 64 KB.
 * Returns: as file_read; ERR_RANGE where it is longer. */
int file_read_at_most(const char *path, size_t most, char **text, size_t *len);

/* Reads an open file to its end; it stays open. Returns and owner as for file_read. */
int descriptor_read(int fd, char **text, size_t *len);

/* Writes all of it. Returns: true, or false with errno. */
bool descriptor_write(int fd, const char *bytes, size_t len);

/* Brings a file that was written beside its place to the disk, and then moves it there.
 *   replace  what is there goes; else nothing may be there
 * Returns: ERR_OK; ERR_CONFLICT where something is there; ERR_IO with errno. */
int file_put(const char *part, const char *path, bool replace);

/* Writes a file in the place of what is there, if anything: beside it first, as `part`, to the
 * disk, then moved, so that it is never half there. mode  of the new file Returns: ERR_OK; ERR_IO
 * with errno, and nothing was changed. */
int file_replace(const char *part, const char *path, mode_t mode, const char *bytes, size_t len);

/* file_replace into a folder, for its owner and group only.
 * Returns: ERR_OK; ERR_IO, reported on standard error; ERR_NOMEM. */
int file_write(const char *folder, const char *name, const char *bytes, size_t len);

#endif
