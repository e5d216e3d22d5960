/* SPDX-License-Identifier: MIT */
/* event_source.h - the event that a command works on: an event folder (one operand), or an event
 * file by data folder and slug (two operands). */
#ifndef CAIRN_EVENT_SOURCE_H
#define CAIRN_EVENT_SOURCE_H

#include "commands/command.h"
#include "system/event_folder.h"

struct store;

/* A plain value; event_source_close frees what it owns. */
struct event_source {
    struct model *model;
    const char *path;           /* the folder; NULL for an event file */
    struct event_folder folder; /* of a folder: its files */
    struct store *store;        /* of an event file that is open, else NULL */
    bool writing;               /* a transaction is open */
};

/* Opens the event of a command's operands, one or two. What is wrong is reported on standard error.
 *   writing  the event file is held for writing, from here until event_source_close
 * Returns: EXIT_GOOD, or the exit code of the command; event_source_close in any case. */
int event_source_open(struct event_source *source, const struct arguments *arguments, bool writing);

/* Keeps a new starts.csv: in the folder, or in the event file as a new revision.
 * Returns an exit code; what is wrong is reported on standard error. */
int event_source_save_starts(struct event_source *source, const char *text, size_t len);

/* Gives up what was not saved, and frees what the source holds. */
void event_source_close(struct event_source *source);

#endif
