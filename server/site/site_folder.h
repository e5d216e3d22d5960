/* SPDX-License-Identifier: MIT */
/* site_folder.h - the files of a static site on disk: only what changed is written, each file is
 * there whole or as it was, and what is gone is removed last.
 * A manifest lists every file with its size and SHA-256. Files that no manifest named are never
 * removed. Each file is noted in a journal before it is added, so that the next writer knows also
 * of the files of one that was killed. One thread; a second writer is refused. */
#ifndef CAIRN_SITE_FOLDER_H
#define CAIRN_SITE_FOLDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/textbuf.h"

struct site_folder;

/* What a writing came to. */
struct site_count {
    int64_t revision; /* the public one that was written */
    size_t files;     /* in all, the manifest aside */
    size_t written;   /* that were not there with the same content, the manifest among them */
    size_t removed;   /* that were part of the site before and are no more */
};

/* Begins a writing.
 *   path  of the folder, which is made where it is not there
 *   slug  of the event; a folder that holds another event's site is refused
 *   why   gets what is wrong
 * Returns: ERR_OK; ERR_INPUT for another event's; ERR_BUSY where another process writes there;
 * ERR_IO; ERR_NOMEM. */
int site_folder_open(const char *path, const char *slug, struct textbuf *why,
                     struct site_folder **out);

/* Puts a file in place, unless its content is there.
 *   file  path from the folder, of letters, digits and "-,._/"
 *   page  of a page, the line on the revision is no content: a page that says the same with another
 *         revision is left as it is
 * Returns: ERR_OK; ERR_IO; ERR_NOMEM; `why` then says which. */
int site_folder_put(struct site_folder *folder, const char *file, const struct textbuf *body,
                    bool page);

/* Ends a writing that is complete: the manifest is put in place, then what is gone is removed.
 * Returns as site_folder_put. */
int site_folder_finish(struct site_folder *folder, int64_t revision, struct site_count *count);

/* Lets the folder go, finished or not. NULL is accepted. */
void site_folder_free(struct site_folder *folder);

#endif
