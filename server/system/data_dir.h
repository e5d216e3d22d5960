/* SPDX-License-Identifier: MIT */
/* data_dir.h - the folder that holds event files: their names. Any thread. */
#ifndef CAIRN_DATA_DIR_H
#define CAIRN_DATA_DIR_H

#include <stdbool.h>
#include <stddef.h>

/* True where the text can be a slug: 1 to 64 characters of a-z, 0-9 and "-". Nothing else that
 * comes from outside becomes part of a path. */
bool slug_is_good(const char *slug);

/* The path of an event's file, DATA_DIR/SLUG.cairn. The caller frees; NULL when memory is out or
 * the slug is none. */
char *data_dir_path(const char *data_dir, const char *slug);

/* The slugs of all event files, sorted. Owner: the caller frees each and the list.
 * Returns: ERR_OK; ERR_IO where the folder cannot be read; ERR_NOMEM. */
int data_dir_list(const char *data_dir, char ***slugs, size_t *count);

/* Where root runs the program: gives a file to the owner of the folder that it stands in, so that a
 * service which runs as that owner can go on writing. For anybody else it does nothing. */
void data_dir_give(const char *path);

/* A name for an event file that is set aside, SLUG.cairn.aside-MOMENT, which nothing has yet: no
 * server serves what has it. The caller frees; NULL when memory is out. */
char *data_dir_aside(const char *path);

#endif
