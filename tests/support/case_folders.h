/* SPDX-License-Identifier: MIT */
/* case_folders.h - event folders on disk, read into memory for tests. */
#ifndef CAIRN_TESTS_CASE_FOLDERS_H
#define CAIRN_TESTS_CASE_FOLDERS_H

#include "event/event.h"

struct case_folder {
    char *texts[5]; /* what the files below point at */
    struct event_files files;
};

/* Reads the folder's files; one that is not there stays NULL. Fails the test where event.json
 * cannot be read. */
void case_folder_open(struct case_folder *folder, const char *path);
void case_folder_close(struct case_folder *folder);

/* Calls `visit` with the path of each event folder of tests/cases whose event is good, in the
 * order of their names: build/cases/NAME/event, where tests/support/cases.py has written it.
 * Returns how many there were. */
int each_case_folder(void (*visit)(const char *path, void *context), void *context);

/* The demo event's folder. */
#define DEMO_FOLDER "seed-demo/merrow-2027"

#endif
