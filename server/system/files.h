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

/* The same for a file of at most `most` bytes. It may hold a secret: no second copy of its bytes is
 * left in memory, unless it is a pipe with more than 64 KB.
 * Returns: as file_read; ERR_RANGE where it is longer. */
int file_read_at_most(const char *path, size_t most, char **text, size_t *len);

/* Reads an open file to its end; it stays open. `text` and what it returns as for file_read. */
int descriptor_read(int fd, char **text, size_t *len);

/* Writes all of it.
 * Returns: true, or false with errno. */
bool descriptor_write(int fd, const char *bytes, size_t len);

/* Syncs a file that was written beside its place to the disk, and then moves it to its place.
 *   part     the file as it was written, on the same file system
 *   path     its place
 *   replace  true: a file that is there is replaced; false: none may be there
 * Returns: ERR_OK; ERR_CONFLICT where a file is there; ERR_IO with errno. */
int file_put(const char *part, const char *path, bool replace);

/* Writes a file in the place of what is there, if anything: first as `part`, synced to the disk,
 * then moved to `path`, so that `path` always holds the old file or the whole new one.
 *   part  a name on the same file system; what is there is removed
 *   mode  of the new file
 * Returns: ERR_OK; ERR_IO with errno, and `path` is as it was. */
int file_replace(const char *part, const char *path, mode_t mode, const char *bytes, size_t len);

/* True where both names are there and stand for one file, by whatever links. */
bool file_is_same(const char *a, const char *b);

/* The folder that a file stands in, by its path: "." where the path names none. The caller frees;
 * NULL when memory is out. */
char *file_folder(const char *path);

/* file_replace of FOLDER/NAME, with mode 0640.
 * Returns: ERR_OK; ERR_IO, reported on standard error; ERR_NOMEM. */
int file_write(const char *folder, const char *name, const char *bytes, size_t len);

#endif
