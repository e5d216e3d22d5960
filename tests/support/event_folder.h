/* SPDX-License-Identifier: MIT */
/* event_folder.h - event folders on disk, read into memory for tests. */
#ifndef CAIRN_TESTS_EVENT_FOLDER_H
#define CAIRN_TESTS_EVENT_FOLDER_H

#include "event/event.h"

struct event_folder {
    char *texts[5]; /* what the files below point at */
    struct event_files files;
};

/* Reads the folder's files; one that is not there stays NULL. Fails the test where event.json
 * cannot be read. */
void event_folder_open(struct event_folder *folder, const char *path);
void event_folder_close(struct event_folder *folder);

/* Calls `visit` with the path of each event folder of tests/cases whose event is good, in the
 * order of their names. Returns how many there were. */
int each_case_folder(void (*visit)(const char *path, void *context), void *context);

/* The demo event's folder. */
#define DEMO_FOLDER "seed-demo/merrow-2027"

#endif
